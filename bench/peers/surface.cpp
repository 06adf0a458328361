// CGAL's answers on one mesh in OFF, for the outside checks. One program, since
// reading CGAL's headers is what costs.
//   surface contacts FILE           pairs of faces that meet where the surface does
//                                   not join them; two face numbers a line
//   surface distances FILE SOURCE   exact distances from a point to all points, one a line
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/self_intersections.h>
#include <CGAL/Surface_mesh.h>
#include <CGAL/Surface_mesh_shortest_path.h>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <string>
#include <vector>

using K = CGAL::Exact_predicates_inexact_constructions_kernel;
using SM = CGAL::Surface_mesh<K::Point_3>;
using SP = CGAL::Surface_mesh_shortest_path<CGAL::Surface_mesh_shortest_path_traits<K, SM>>;

int main(int argc, char **argv) {
  std::string what = argc > 1 ? argv[1] : "";
  if (argc != (what == "distances" ? 4 : 3)) return 2;
  std::ifstream in(argv[2]);
  SM m;
  if (!(in >> m)) return 1;
  if (what == "distances") {
    SP sp(m);
    sp.add_source_point(*(vertices(m).begin() + atoi(argv[3])));
    for (auto v : m.vertices()) printf("%.12g\n", sp.shortest_distance_to_source_points(v).first);
    return 0;
  }
  std::vector<std::pair<SM::Face_index, SM::Face_index>> out;
  CGAL::Polygon_mesh_processing::self_intersections(m, std::back_inserter(out));
  for (auto &p : out) printf("%d %d\n", (int)p.first, (int)p.second);
}
