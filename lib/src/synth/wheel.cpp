#include "synth/wheel.hpp"
#include "synth/radians.hpp"

#include <algorithm>
#include <cmath>

namespace evenstroke::synth {

namespace {

constexpr double turn_rad = 2 * pi;
constexpr std::size_t shape_steps = 7200;  ///< a twentieth of a degree: 100 steps for the closest tooth

double wrapped(double angle_rad) {
    return angle_rad - turn_rad * std::floor(angle_rad / turn_rad);
}

}  // namespace

Wheel make_wheel(const SynthChain& chain, Random& random) {
    const std::vector<double>& pitch = chain.pattern.pitch_deg;
    if (pitch.empty())
        throw Error(ErrorCode::bad_option, "--wheel", "a wheel without a pattern cannot be simulated",
                    "give its teeth, as in 60-2");
    Wheel wheel;
    // Half the closest pitch is tooth, half is gap.
    wheel.width_rad = *std::min_element(pitch.begin(), pitch.end()) / 2 * rad_per_deg;
    double at_deg = -chain.wheel_lead_deg;
    for (const double to_next : pitch) {
        const double rising = at_deg * rad_per_deg + chain.tooth_error_deg * rad_per_deg * random.normal();
        const double falling =
            rising + wheel.width_rad + chain.tooth_error_deg * rad_per_deg * random.normal();
        wheel.marks.push_back({wrapped(rising), true});
        wheel.marks.push_back({wrapped(falling), false});
        wheel.tooth_rad.push_back(wrapped((rising + falling) / 2));
        at_deg += to_next;
    }
    std::sort(wheel.marks.begin(), wheel.marks.end(),
              [](const Mark& a, const Mark& b) { return a.angle_rad < b.angle_rad; });
    return wheel;
}

std::vector<double> wheel_shape(const Wheel& wheel) {
    // The flux of each tooth is a bell about as wide as the tooth; the voltage is its slope.
    const double bell_rad = wheel.width_rad / 2;
    std::vector<double> shape(shape_steps, 0.0);
    for (const double tooth : wheel.tooth_rad)
        for (std::size_t i = 0; i < shape_steps; ++i) {
            double off = turn_rad * static_cast<double>(i) / shape_steps - tooth;
            off -= turn_rad * std::round(off / turn_rad);
            const double x = off / bell_rad;
            if (std::abs(x) < 6) shape[i] += -x * std::exp(-x * x / 2);
        }
    const double highest = *std::max_element(shape.begin(), shape.end());
    for (double& value : shape) value /= highest;
    return shape;
}

double shape_at(const std::vector<double>& shape, double angle_rad) {
    const double place = wrapped(angle_rad) / turn_rad * static_cast<double>(shape.size());
    const auto i = static_cast<std::size_t>(place) % shape.size();
    const double part = place - std::floor(place);
    return shape[i] + part * (shape[(i + 1) % shape.size()] - shape[i]);
}

}  // namespace evenstroke::synth
