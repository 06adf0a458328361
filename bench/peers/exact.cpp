// CGAL's exact surface distance: one source (point 0) to all points.
//   exact G            of a tray of 4 G^2 and a few triangles
//   exact FILE         of a mesh from a file
#include "common.h"
#include <CGAL/Simple_cartesian.h>
#include <CGAL/Surface_mesh.h>
#include <CGAL/Surface_mesh_shortest_path.h>

using K = CGAL::Simple_cartesian<double>;
using SM = CGAL::Surface_mesh<K::Point_3>;
using SP = CGAL::Surface_mesh_shortest_path<CGAL::Surface_mesh_shortest_path_traits<K, SM>>;

int main(int argc, char **argv) {
  if (argc != 2) return 2;
  SM m;
  int g = atoi(argv[1]);
  Part part(g > 0 ? nullptr : argv[1], g);
  auto &V = part.V;
  auto &F = part.F;
  std::vector<SM::Vertex_index> vi;
  for (auto &v : V) vi.push_back(m.add_vertex(K::Point_3(v[0], v[1], v[2])));
  for (auto &f : F) m.add_face(vi[f[0]], vi[f[1]], vi[f[2]]);
  int nv = m.number_of_vertices();
  std::vector<double> D(nv);
  double t = least(1, [&] {
    SP sp(m);
    sp.add_source_point(*(vertices(m).begin()));
    for (int i = 0; i < nv; i++) D[i] = sp.shortest_distance_to_source_points(SM::Vertex_index(i)).first;
  });
  double sum = 0;
  for (int k = 0; k < 10; k++) sum += D[std::min(nv - 1, int(nv * uni(42, k)))];
  printf("cgal exact %6d triangles  %8.1f ms  sum10 %.3f mm  peak %.0f MB\n", (int)m.number_of_faces(), t * 1e3, sum, peak_mb());
}
