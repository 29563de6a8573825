// The cranked engine as a wheel sees it: a linear model of speed, fitted by least squares. Private.
#pragma once

#include <Eigen/Core>
#include <span>
#include <vector>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution::wheel {

/// The teeth that are fitted, and the engine.
struct WheelMotion {
    std::vector<double> time_s;     ///< knots, ascending
    std::vector<double> angle_deg;  ///< at the knots
    Eigen::VectorXd rad_per_s;      ///< between neighbouring knots: one fewer
    std::vector<double> tdc_deg;    ///< firing TDC of each position after that of position 0
    double repeat_deg =
        cycle_deg;  ///< the intervals look alike after this angle: so far is the phase known only

    [[nodiscard]] double turned_deg() const { return angle_deg.back() - angle_deg.front(); }
};

/// Angles of teeth are sums of pitches: two that are equal differ by less than this.
inline constexpr double tooth_rounding_deg = 0.01;

/// How far the teeth stand apart.
struct Pitches {
    std::vector<double> deg;  ///< from each to the next
    double usual_deg = 0;

    /// Whether teeth are missing behind tooth `tooth`: it stands half as far again from the next as usual.
    [[nodiscard]] bool gap(std::size_t tooth) const { return deg[tooth] >= 1.5 * usual_deg; }
};

/// Of a motion of two teeth at least.
[[nodiscard]] Pitches pitches_of(const WheelMotion& motion);

/// One compression: when, and whose.
struct Event {
    double tdc_deg = 0;
    int position = 0;
    int cycle = 0;
};

/// Compressions whose TDC lies in the motion or close enough to matter to it, ascending.
[[nodiscard]] std::vector<Event> compressions_of(const WheelMotion& motion, double phase_deg);

/// Response of speed to unit strength of each column's compressions, and the starter's terms after them:
/// final speed, decay of the first speed, and slow changes when there are enough cycles.
[[nodiscard]] Eigen::MatrixXd design(const WheelMotion& motion, std::span<const Event> events,
                                     std::span<const int> column_of_event, int columns,
                                     double starter_rate_hz);

/// What was fitted.
struct LinearFit {
    double phase_deg = 0;        ///< angle of position 0's firing TDC
    double starter_rate_hz = 0;  ///< 1/s: how fast the starter pulls speed back
    Eigen::VectorXd strength;    ///< of each position, 1/s^2
    Eigen::VectorXd model;       ///< rad/s
    double squares = 0;          ///< of the residual
    double cost = 0;             ///< lower is likelier: twice the negative logarithm, but for a constant
};

/// Strengths for given phase and starter.
[[nodiscard]] LinearFit fit_at(const WheelMotion& motion, double phase_deg, double starter_rate_hz);

/// Phase and starter by search, likeliest first; each lays the firing intervals elsewhere in the cycle, at
/// most `most_places` of them, none where every phase has the compressions speed the crank up.
/// `known_phases_deg`, when not empty, limit the search to their neighbourhoods.
[[nodiscard]] std::vector<LinearFit> fit_motion(const WheelMotion& motion,
                                                std::span<const double> known_phases_deg, int most_places);

}  // namespace evenstroke::contribution::wheel
