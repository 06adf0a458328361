// Embree 3 on the tray of 202,496 triangles, or on a file: tree, closest point, first hit.
#include "common.h"
#include <embree3/rtcore.h>

struct Near {
  const float *v;
  const int *f;
  float q[3], best;
};
// closest point on a triangle (C. Ericson, Real-Time Collision Detection, 5.1.5), float
static bool visit(RTCPointQueryFunctionArguments *a) {
  Near *u = (Near *)a->userPtr;
  const int *t = u->f + 3 * a->primID;
  const float *A = u->v + 3 * t[0], *B = u->v + 3 * t[1], *C = u->v + 3 * t[2], *p = u->q;
  auto dot = [](const float *x, const float *y) { return x[0] * y[0] + x[1] * y[1] + x[2] * y[2]; };
  float ab[3], ac[3], ap[3], bp[3], cp[3];
  for (int i = 0; i < 3; i++) ab[i] = B[i] - A[i], ac[i] = C[i] - A[i], ap[i] = p[i] - A[i], bp[i] = p[i] - B[i], cp[i] = p[i] - C[i];
  float d1 = dot(ab, ap), d2 = dot(ac, ap), d3 = dot(ab, bp), d4 = dot(ac, bp), d5 = dot(ab, cp), d6 = dot(ac, cp), v, w;
  float vc = d1 * d4 - d3 * d2, vb = d5 * d2 - d1 * d6, va = d3 * d6 - d5 * d4;
  if (d1 <= 0 && d2 <= 0) v = w = 0;
  else if (d3 >= 0 && d4 <= d3) v = 1, w = 0;
  else if (vc <= 0 && d1 >= 0 && d3 <= 0) v = d1 / (d1 - d3), w = 0;
  else if (d6 >= 0 && d5 <= d6) v = 0, w = 1;
  else if (vb <= 0 && d2 >= 0 && d6 <= 0) v = 0, w = d2 / (d2 - d6);
  else if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) w = (d4 - d3) / ((d4 - d3) + (d5 - d6)), v = 1 - w;
  else { float den = 1 / (va + vb + vc); v = vb * den, w = vc * den; }
  float e = 0;
  for (int i = 0; i < 3; i++) { float x = ap[i] - v * ab[i] - w * ac[i]; e += x * x; }
  e = std::sqrt(e);
  if (e < u->best) { u->best = e; a->query->radius = e; return true; }
  return false;
}

int main(int argc, char **argv) {
  Part part(argc > 1 ? argv[1] : nullptr);
  auto &V = part.V;
  auto &F = part.F;
  std::vector<float> vf;
  std::vector<int> ff;
  for (auto &v : V) for (double x : v) vf.push_back(x);
  for (int k = 0; k < 4; k++) vf.push_back(0);
  for (auto &f : F) for (int x : f) ff.push_back(x);
  RTCDevice dev = rtcNewDevice("threads=1");
  RTCScene sc = nullptr;
  double t = least(15, [&] {
    if (sc) rtcReleaseScene(sc);
    sc = rtcNewScene(dev);
    rtcSetSceneFlags(sc, RTC_SCENE_FLAG_ROBUST);
    RTCGeometry g = rtcNewGeometry(dev, RTC_GEOMETRY_TYPE_TRIANGLE);
    rtcSetSharedGeometryBuffer(g, RTC_BUFFER_TYPE_VERTEX, 0, RTC_FORMAT_FLOAT3, vf.data(), 0, 12, V.size());
    rtcSetSharedGeometryBuffer(g, RTC_BUFFER_TYPE_INDEX, 0, RTC_FORMAT_UINT3, ff.data(), 0, 12, F.size());
    rtcCommitGeometry(g);
    rtcAttachGeometry(sc, g);
    rtcReleaseGeometry(g);
    rtcCommitScene(sc);
  });
  printf("embree tree           %8.2f ms  %s, %zu triangles\n", t * 1e3, part.name, F.size());
  const long N = 1000000;
  std::vector<V3> Q(N);
  for (long k = 0; k < N; k++) Q[k] = part.near(k);
  // in the order the points come in, and in the order of a curve through space
  for (int sorted = 0; sorted < 2; sorted++) {
    if (sorted) {
      auto key = [&](const V3 &p) {
        uint32_t k = 0;
        for (int a = 0; a < 3; a++) {
          double at = part.file ? (p[a] - part.lo[a]) / part.size : (p[a] + 100) / 1600;
          uint32_t c = std::min(1023.0, std::max(0.0, at * 1023.99));
          for (int b = 0; b < 10; b++) k |= (c >> b & 1) << (3 * b + a);
        }
        return k;
      };
      std::sort(Q.begin(), Q.end(), [&](const V3 &a, const V3 &b) { return key(a) < key(b); });
    }
    double sum = 0, top = 0;
    t = least(3, [&] {
      sum = top = 0;
      for (long k = 0; k < N; k++) {
        Near u{vf.data(), ff.data(), {(float)Q[k][0], (float)Q[k][1], (float)Q[k][2]}, INFINITY};
        RTCPointQuery p;
        p.x = u.q[0], p.y = u.q[1], p.z = u.q[2], p.time = 0, p.radius = INFINITY;
        RTCPointQueryContext c;
        rtcInitPointQueryContext(&c);
        rtcPointQuery(sc, &p, &c, visit, &u);
        sum += u.best, top = std::max(top, (double)u.best);
      }
    });
    printf("embree closest point, %s %8.3f M/s  mean %.6f mm  max %.4f mm\n",
           sorted ? "sorted before, sorting not counted" : "in order of input", N / t / 1e6, sum / N, top);
  }
  struct Ry { double o[3], d[3]; };
  std::vector<Ry> R(N);
  for (int mode = 0; mode < 2; mode++) {
    for (long k = 0; k < N; k++) {
      V3 o, d;
      part.ray(k, mode == 1, o, d);
      for (int i = 0; i < 3; i++) R[k].o[i] = o[i], R[k].d[i] = d[i];
    }
    long hit = 0;
    t = least(5, [&] {
      hit = 0;
      for (long k = 0; k < N; k++) {
        RTCRayHit h;
        RTCIntersectContext c;
        rtcInitIntersectContext(&c);
        auto &r = h.ray;
        r.org_x = R[k].o[0], r.org_y = R[k].o[1], r.org_z = R[k].o[2], r.dir_x = R[k].d[0], r.dir_y = R[k].d[1], r.dir_z = R[k].d[2];
        r.tnear = 0, r.tfar = INFINITY, r.mask = -1, r.flags = 0, r.time = 0;
        h.hit.geomID = h.hit.instID[0] = RTC_INVALID_GEOMETRY_ID;
        rtcIntersect1(sc, &c, &h);
        hit += h.hit.geomID != RTC_INVALID_GEOMETRY_ID;
      }
    });
    printf("embree rays %s    %8.3f M/s  hits %ld\n", mode ? "random" : "camera", N / t / 1e6, hit);
  }
}
