// CGAL's answers on one mesh in OFF, for the outside checks. One program, since
// reading CGAL's headers is what costs.
//   surface contacts FILE           pairs of faces that meet where the surface does
//                                   not join them; two face numbers a line
//   surface distances FILE SOURCE   exact distances from a point to all points, one a line
//   surface sound FILE              valid, closed, without self-intersection, bounds a volume
//                                   (1 or 0 each), number of pieces, volume
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/connected_components.h>
#include <CGAL/Polygon_mesh_processing/measure.h>
#include <CGAL/Polygon_mesh_processing/orientation.h>
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
  if (what == "sound") {
    namespace P = CGAL::Polygon_mesh_processing;
    bool closed = CGAL::is_closed(m);
    auto piece = m.add_property_map<SM::Face_index, std::size_t>("f:piece", 0).first;
    printf("%d %d %d %d %d %.12g\n", CGAL::is_valid_polygon_mesh(m), closed, !P::does_self_intersect(m), closed && P::does_bound_a_volume(m),
           (int)P::connected_components(m, piece), closed ? P::volume(m) : 0.0);
    return 0;
  }
  std::vector<std::pair<SM::Face_index, SM::Face_index>> out;
  CGAL::Polygon_mesh_processing::self_intersections(m, std::back_inserter(out));
  for (auto &p : out) printf("%d %d\n", (int)p.first, (int)p.second);
}
