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

Lab LabOfSrgb(const std::array<uint8_t, 3>& srgb);
double CieDe2000(const Lab& first, const Lab& second);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_CONTRAST_H_
