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
