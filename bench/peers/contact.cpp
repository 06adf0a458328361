// CGAL's pairs of faces that meet where the surface does not join them.
//   contact FILE            a mesh in OFF; two face numbers a line
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/self_intersections.h>
#include <CGAL/Surface_mesh.h>
#include <cstdio>
#include <fstream>
#include <vector>

using K = CGAL::Exact_predicates_inexact_constructions_kernel;
using SM = CGAL::Surface_mesh<K::Point_3>;

int main(int argc, char **argv) {
  if (argc != 2) return 2;
  std::ifstream in(argv[1]);
  SM m;
  if (!(in >> m)) return 1;
  std::vector<std::pair<SM::Face_index, SM::Face_index>> out;
  CGAL::Polygon_mesh_processing::self_intersections(m, std::back_inserter(out));
  for (auto &p : out) printf("%d %d\n", (int)p.first, (int)p.second);
}
