// What a way of reading a wheel's speed says of the cylinders, and how it is shown. Private.
#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <optional>
#include <vector>

#include "evenstroke/contribution.hpp"
#include "shut_exhaust.hpp"
#include "wheel_model.hpp"

namespace evenstroke::contribution::wheel {

struct Answer {
    double phase_deg = 0;                   ///< angle of position 0's firing TDC
    Eigen::ArrayXd pct, low_pct, high_pct;  ///< [cylinders]
    std::vector<Event> events;              ///< every compression that reaches into the motion
    std::vector<double> by_event_pct;       ///< of each alone; NaN where it is not seen whole
    Eigen::VectorXd rad_per_s;              ///< [teeth] the speed that the model gives
    std::optional<ShutExhaust> exhaust_shut;
};

/// Time at which the motion passes `angle_deg`; beyond its ends at the pace there.
[[nodiscard]] double time_at(const WheelMotion& motion, double angle_deg);

/// Widens `answer` until each position's interval holds what `other` makes of it too.
void join(Answer& answer, const Answer& other);

/// Puts cylinders, events and the mean cycle into `result`.
void fill(const WheelMotion& motion, const Answer& answer, Contribution& result);

}  // namespace evenstroke::contribution::wheel
