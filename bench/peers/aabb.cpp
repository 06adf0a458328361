// CGAL's tree of boxes on the tray of 202,496 triangles, in float64: tree with hints
// for distances, closest point, first hit. Fewer queries than of the others, which it
// is slower than; rates are comparable.
#include "common.h"
#include <CGAL/AABB_face_graph_triangle_primitive.h>
#include <CGAL/AABB_traits.h>
#include <CGAL/AABB_tree.h>
#include <CGAL/Simple_cartesian.h>
#include <CGAL/Surface_mesh.h>

using K = CGAL::Simple_cartesian<double>;
using SM = CGAL::Surface_mesh<K::Point_3>;
using Tree = CGAL::AABB_tree<CGAL::AABB_traits<K, CGAL::AABB_face_graph_triangle_primitive<SM>>>;

int main(int argc, char **argv) {
  SM m;
  Part part(argc > 1 ? argv[1] : nullptr);
  auto &V = part.V;
  auto &F = part.F;
  std::vector<SM::Vertex_index> vi;
  for (auto &v : V) vi.push_back(m.add_vertex(K::Point_3(v[0], v[1], v[2])));
  for (auto &f : F) m.add_face(vi[f[0]], vi[f[1]], vi[f[2]]);
  auto build = [&](bool hints) {
    return least(5, [&] {
      Tree t(faces(m).first, faces(m).second, m);
      t.build();
      if (hints) t.accelerate_distance_queries();
    });
  };
  printf("cgal tree             %8.1f ms, with hints for distances %8.1f ms  %s\n", build(false) * 1e3, build(true) * 1e3, part.name);
  Tree tree(faces(m).first, faces(m).second, m);
  tree.build();
  tree.accelerate_distance_queries();
  const long N = 100000;
  double sum = 0, top = 0;
  double t = least(3, [&] {
    sum = top = 0;
    for (long k = 0; k < N; k++) {
      V3 q = part.near(k);
      double d = std::sqrt(tree.squared_distance(K::Point_3(q[0], q[1], q[2])));
      sum += d, top = std::max(top, d);
    }
  });
  printf("cgal closest point    %8.3f M/s  mean %.6f mm  max %.4f mm  (the first %ld)\n", N / t / 1e6, sum / N, top, N);
  for (int mode = 0; mode < 2; mode++) {
    long hit = 0;
    t = least(2, [&] {
      hit = 0;
      for (long i = 0; i < N; i++) {
        long k = 10 * i; // every tenth of the million
        V3 o, d;
        part.ray(k, mode == 1, o, d);
        hit += bool(tree.first_intersection(K::Ray_3(K::Point_3(o[0], o[1], o[2]), K::Vector_3(d[0], d[1], d[2]))));
      }
    });
    printf("cgal rays %s      %8.3f M/s  hits %ld of %ld\n", mode ? "random" : "camera", N / t / 1e6, hit, N);
  }
}
