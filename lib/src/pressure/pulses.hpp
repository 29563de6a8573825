// Where the pressure rises and falls once a cycle: the compressions, before any model.
#pragma once

#include <optional>
#include <span>
#include <vector>

namespace evenstroke::pressure {

/// One compression as seen in the trace, readings in kPa.
struct RoughPulse {
    double peak_s = 0;             ///< vertex of the polynomial through the top
    double peak = 0;               ///< its value
    double rise_s = 0;             ///< passes the middle between rest and peak, upwards
    std::optional<double> fall_s;  ///< the same downwards; empty when the recording ends before
    bool whole = false;            ///< both flanks are in the recording
    /// Passes an eighth of the height on its way down: about 75 degrees after the peak.
    std::optional<double> foot_s;
    std::optional<double>
        heated;  ///< `heated_ratio`: above 1 where the expansion stands above the compression
    bool bridged_before = false;  ///< a gap of the recording lies between the last pulse and this
};

struct PulseTrain {
    std::vector<RoughPulse> pulses;  ///< in time order
    double rest = 0;                 ///< level between pulses, reading
    double high = 0;                 ///< level that the highest pulses reach
    double noise = 0;                ///< sd of one sample
    std::optional<double> period_s;  ///< median between neighbours
};

/// Finds pulses in readings at `rate_hz`, the first at `start_s`; between the strokes they stand at
/// `ambient_kpa`. Empty `pulses` when nothing stands out.
[[nodiscard]] PulseTrain find_pulses(std::span<const float> values, double rate_hz, double start_s,
                                     double ambient_kpa);

/// The top's vertex by a polynomial of fourth degree over readings above `floor` on either side of `middle`;
/// time in s, value; empty when fewer than seven readings lie there or the vertex falls outside.
struct Vertex {
    double time_s = 0;
    double value = 0;
};
[[nodiscard]] std::optional<Vertex> top_of(std::span<const float> values, double rate_hz, double start_s,
                                           std::size_t middle, double floor);

}  // namespace evenstroke::pressure
