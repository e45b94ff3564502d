#pragma once
// A resistive load behind a phase cut: textbook closed form, for firing angle a in radians, values over the uncut ones:
// V^2 = 1 - a/pi + sin(2a)/(2 pi), P = V^2, power factor = V; harmonics from the Fourier integrals of the cut sine.

#include <array>

namespace lampload::reference {

struct PhaseCut {
  double firing_deg;
  double voltage;      // rms over supply
  double power;        // over full
  double fundamental;  // of the current, over full
  double power_factor;
  double displacement_factor;
  double thd;
  double third;  // harmonics of the current over its full value
  double fifth;
  double seventh;
};

// Source: textbook closed form.
inline constexpr std::array<PhaseCut, 5> kPhaseCut{{
    {30, 0.985477, 0.971166, 0.974420, 0.985477, 0.996660, 0.151073, 0.079577, 0.070181, 0.057812},
    {60, 0.896939, 0.804499, 0.839173, 0.896939, 0.958680, 0.377373, 0.238732, 0.137832, 0.068916},
    {90, 0.707107, 0.500000, 0.592724, 0.707107, 0.843564, 0.650538, 0.318310, 0.106103, 0.106103},
    {120, 0.442155, 0.195501, 0.308567, 0.442155, 0.633577, 1.026296, 0.238732, 0.137832, 0.068916},
    {150, 0.169807, 0.028834, 0.084640, 0.169807, 0.340670, 1.739226, 0.079577, 0.070181, 0.057812},
}};

}  // namespace lampload::reference
