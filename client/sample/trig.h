// Sine and cosine that are the same bits on every platform (the C library's may differ in the last place).

#ifndef SCANTLING_CLIENT_SAMPLE_TRIG_H_
#define SCANTLING_CLIENT_SAMPLE_TRIG_H_

namespace scantling::sample {

struct SinCos {
  double sine;
  double cosine;
};

// Of an angle in turns (1 turn = 360 degrees), |turns| below 1e9. Exact at quarter turns, else within 4e-16.
SinCos SinCosOfTurns(double turns);

}  // namespace scantling::sample

#endif  // SCANTLING_CLIENT_SAMPLE_TRIG_H_
