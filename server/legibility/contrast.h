// Colour difference between an object and the backdrop: sRGB -> CIELAB (D65) -> CIEDE2000.
//
// Source: Sharma, Wu & Dalal, The CIEDE2000 Color-Difference Formula, Color Research & Application 30(1), 2005.
// sRGB: IEC 61966-2-1; L*a*b*: CIE 15.

#ifndef SCANTLING_SERVER_LEGIBILITY_CONTRAST_H_
#define SCANTLING_SERVER_LEGIBILITY_CONTRAST_H_

#include <array>
#include <cstdint>

namespace scantling {

struct Lab {
  double l = 0, a = 0, b = 0;
};

// All are pure and thread-safe, and total: any bytes, any finite numbers.

// Linear light, 0..1, of an encoded channel, 0..1.
double LinearOfSrgb(double encoded);

// L*, 0..100, of a luminance relative to white, 0..1.
double LightnessOfLuminance(double luminance);

// sRGB white is exactly (100, 0, 0), black (0, 0, 0); equal channels have no chroma but rounding (1e-13).
Lab LabOfSrgb(const std::array<uint8_t, 3>& srgb);

// >= 0, symmetric; 1 is about the least difference that is noticed.
double CieDe2000(const Lab& first, const Lab& second);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_CONTRAST_H_
