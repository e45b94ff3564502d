#pragma once
// Light of a glowing body, by Planck's law and the eye's sensitivity.

namespace lampload {

/// Luminance of a black body [cd/m^2]: Planck's law weighted with the CIE luminous efficiency function V(lambda) (CIE
/// 1924, the same as y of CIE 1931) and 683 lm/W. 0 below 500 K, where nothing glows; temperatures above 4600 K count
/// as that.
double black_body_luminance(double temperature_k);

}  // namespace lampload
