// Shared by the drivers: time, the counter-based generator, and the tray. The
// same formulas stand in internal/mesh/tray_test.go, bit for bit.
#pragma once
#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <functional>
#include <cstring>
#include <sys/resource.h>
#include <vector>

static double cpu() {
  timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return t.tv_sec + 1e-9 * t.tv_nsec;
}
static double peak_mb() {
  rusage u;
  getrusage(RUSAGE_SELF, &u);
  return u.ru_maxrss / 1024.0;
}
// the least processor time of r runs, in seconds
template <class F> static double least(int r, F f) {
  double best = INFINITY;
  for (int i = 0; i < r; i++) {
    double t = cpu();
    f();
    best = std::min(best, cpu() - t);
  }
  return best;
}

static uint64_t sm(uint64_t seed, uint64_t i) {
  uint64_t z = seed + (i + 1) * 0x9E3779B97F4A7C15ull;
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ull;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBull;
  return z ^ (z >> 31);
}
static double uni(uint64_t seed, uint64_t i) { return (sm(seed, i) >> 11) * 0x1p-53; }

using V3 = std::array<double, 3>;
using I3 = std::array<int, 3>;
static const double LX = 1400, LY = 1000, WALL = 4;
static double H(double x, double y) {
  double a = (std::fmod(x, 100.0) - 50) / 10, b = (std::fmod(y, 125.0) - 62.5) / 10;
  double bx = std::exp(-a * a), by = std::exp(-b * b);
  return 60 * std::sin(M_PI * x / LX) * std::sin(M_PI * y / LY) + 40 * (bx + by - bx * by);
}
static void tray(std::vector<V3> &V, std::vector<I3> &F, int G) {
  int N = (G + 1) * (G + 1);
  V.clear();
  F.clear();
  for (int i = 0; i <= G; i++)
    for (int j = 0; j <= G; j++) {
      double x = LX * i / G, y = LY * j / G;
      V.push_back({x, y, H(x, y)});
    }
  for (int k = 0; k < N; k++) V.push_back({V[k][0], V[k][1], V[k][2] - WALL});
  auto id = [&](int a, int b) { return a * (G + 1) + b; };
  for (int a = 0; a < G; a++)
    for (int b = 0; b < G; b++) F.push_back({id(a, b), id(a + 1, b), id(a + 1, b + 1)});
  for (int a = 0; a < G; a++)
    for (int b = 0; b < G; b++) F.push_back({id(a, b), id(a + 1, b + 1), id(a, b + 1)});
  int M = F.size();
  for (int k = 0; k < M; k++) F.push_back({F[k][2] + N, F[k][1] + N, F[k][0] + N});
  std::vector<int> L;
  for (int r = 0; r < G; r++) L.push_back(id(r, 0));
  for (int r = 0; r < G; r++) L.push_back(id(G, r));
  for (int r = 0; r < G; r++) L.push_back(id(G - r, G));
  for (int r = 0; r < G; r++) L.push_back(id(0, G - r));
  for (size_t k = 0; k < L.size(); k++) {
    int p = L[k], q = L[(k + 1) % L.size()];
    F.push_back({p, p + N, q + N});
    F.push_back({p, q + N, q});
  }
}
static V3 scanpt(uint64_t k, int G, uint64_t seed) {
  double u[8];
  for (int q = 0; q < 8; q++) u[q] = uni(seed, 8 * k + q);
  double x = LX * u[0], y = LY * u[1], dx = LX / G, dy = LY / G;
  int i = std::min(int(x / dx), G - 1), j = std::min(int(y / dy), G - 1);
  double a = x / dx - i, b = y / dy - j;
  auto h = [&](int p, int q) { return H(LX * p / G, LY * q / G); };
  double z00 = h(i, j), z10 = h(i + 1, j), z11 = h(i + 1, j + 1), z01 = h(i, j + 1);
  double zx = z10 - z00, zy = z11 - z10;
  if (b > a) zx = z11 - z01, zy = z01 - z00;
  double z = z00 + a * zx + b * zy, nx = -zx / dx, ny = -zy / dy, l = std::sqrt(nx * nx + ny * ny + 1);
  V3 n = {nx / l, ny / l, 1 / l};
  double d = 0.3 * std::sqrt(-2 * std::log(1 - u[2])) * std::cos(2 * M_PI * u[3]);
  if (u[4] < 0.05) d += 5 + 25 * u[5];
  if (u[4] >= 0.99) return {-100 + 1600 * u[5], -100 + 1200 * u[6], -100 + 300 * u[7]};
  return {x + d * n[0], y + d * n[1], z + d * n[2]};
}

// What is asked of a mesh from a file (text PLY of triangles) instead of the tray: the
// same formulas stand in internal/mesh/peers_test.go. Without a file it is the tray.
struct Part {
  std::vector<V3> V;
  std::vector<I3> F;
  const char *name = "tray";
  V3 mid{}, lo{}, hi{};
  double size = 0;
  bool file = false;

  explicit Part(const char *path, int g = 224) {
    if (!path) {
      tray(V, F, g);
      return;
    }
    file = true, name = path;
    if (const char *s = strrchr(path, '/')) name = s + 1;
    FILE *in = fopen(path, "r");
    char line[256];
    size_t nv = 0, nf = 0;
    while (in && fgets(line, sizeof line, in) && strncmp(line, "end_header", 10))
      sscanf(line, "element vertex %zu", &nv), sscanf(line, "element face %zu", &nf);
    V.resize(nv), F.resize(nf);
    for (auto &v : V)
      if (fscanf(in, "%lf%lf%lf", &v[0], &v[1], &v[2]) != 3) exit(1);
    for (auto &f : F)
      if (int n; fscanf(in, "%d%d%d%d", &n, &f[0], &f[1], &f[2]) != 4 || n != 3) exit(1);
    if (F.empty()) exit(1);
    fclose(in);
    lo = hi = V[0];
    for (auto &v : V)
      for (int i = 0; i < 3; i++) lo[i] = std::min(lo[i], v[i]), hi[i] = std::max(hi[i], v[i]);
    for (int i = 0; i < 3; i++) mid[i] = (lo[i] + hi[i]) / 2, size = std::max(size, hi[i] - lo[i]);
  }
  // a point near the surface: 0.0002 of the size off, 5 % more, 1 % anywhere
  V3 near(uint64_t k) const {
    if (!file) return scanpt(k, 224, 1000);
    double u[8];
    for (int q = 0; q < 8; q++) u[q] = uni(11, 8 * k + q);
    V3 p;
    if (u[4] >= 0.99) {
      for (int i = 0; i < 3; i++) p[i] = mid[i] + 1.2 * size * (u[5 + i] - 0.5);
      return p;
    }
    const I3 &f = F[std::min(int(F.size() * u[0]), int(F.size()) - 1)];
    double a = u[1], b = u[2], d = 0.0002 * size * std::sqrt(-2 * std::log(1 - u[3])) * std::cos(2 * M_PI * u[5]);
    if (a + b > 1) a = 1 - a, b = 1 - b;
    if (u[4] < 0.05) d += size * (0.004 + 0.02 * u[6]);
    const V3 &A = V[f[0]], &B = V[f[1]], &C = V[f[2]];
    V3 e, g;
    for (int i = 0; i < 3; i++) e[i] = B[i] - A[i], g[i] = C[i] - A[i];
    V3 n = {e[1] * g[2] - e[2] * g[1], e[2] * g[0] - e[0] * g[2], e[0] * g[1] - e[1] * g[0]};
    double l = std::sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]);
    for (int i = 0; i < 3; i++) p[i] = A[i] + a * e[i] + b * g[i] + (l > 0 ? d * n[i] / l : 0);
    return p;
  }
  // a ray of a camera, line by line, or any through the middle of the part
  void ray(long k, bool random, V3 &o, V3 &d) const {
    if (random) {
      double z = 2 * uni(5, 2 * k) - 1, a = 2 * M_PI * uni(5, 2 * k + 1), s = std::sqrt(1 - z * z), u = uni(6, 2 * k), v = uni(6, 2 * k + 1);
      V3 c = {1400 * u, 1000 * v, 40};
      if (file) c = {mid[0] + 0.8 * size * (u - 0.5), mid[1] + 0.8 * size * (v - 0.5), mid[2]};
      d = {s * std::cos(a), s * std::sin(a), z};
      for (int i = 0; i < 3; i++) o[i] = c[i] - (file ? 1.5 * size : 1500) * d[i];
      return;
    }
    double x = (k % 1000) / 1000.0, y = (k / 1000) / 1000.0;
    V3 q = {-200 + 1800.0 * (k % 1000) / 1000, -200 + 1400.0 * (k / 1000) / 1000, 0};
    o = {200, -600, 1800};
    if (file) {
      o = {mid[0] - 0.4 * size, mid[1] - 0.9 * size, mid[2] + 1.2 * size};
      q = {mid[0] + 1.4 * size * (x - 0.5), mid[1] + 1.4 * size * (y - 0.5), mid[2]};
    }
    for (int i = 0; i < 3; i++) d[i] = q[i] - o[i];
  }
};
