#include "synth/transducer.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "evenstroke/units.hpp"
#include "synth/chain.hpp"

namespace evenstroke::synth {

namespace {

constexpr const char* volt = "V";
/// Wider than any engine or transducer needs: what lies beyond is a slip of the keyboard.
constexpr double most_kpa = 50'000;

/// Refuses a figure that is not a number or lies outside low to high.
void within(double value, double low, double high, const char* what, const char* remedy) {
    if (!(value >= low && value <= high))
        throw Error(ErrorCode::bad_option, what, fmt::format("{:g} is out of range", value), remedy);
}

std::vector<double> true_kpa(const SynthOptions& options, const Motion& motion) {
    const SynthTransducer& transducer = options.chain.transducer;
    const bool gauge = transducer.gauge || transducer.check_valve;
    const double zero_kpa = gauge ? options.engine.ambient_kpa : 0;
    std::vector<double> kpa;
    kpa.reserve(motion.pressure_pa.size());
    for (const float pa : motion.pressure_pa) kpa.push_back(static_cast<double>(pa) / 1000 - zero_kpa);
    return kpa;
}

/// Kilopascals that one recorded unit stands for; the unit is one that `check_transducer` let pass.
double kpa_per_unit(const SynthTransducer& transducer) {
    if (transducer.unit == volt) return transducer.kpa_per_v;
    return find_unit(transducer.unit)->factor;
}

}  // namespace

std::vector<double> lagging(const std::vector<double>& true_kpa, double bandwidth_hz) {
    const double constant_s = 1 / (2 * pi * bandwidth_hz);
    const double keep = std::exp(-step_s / constant_s);
    std::vector<double> out(true_kpa);
    for (std::size_t i = 1; i < out.size(); ++i) {
        // Behind a ramp a first-order reading lags by its slope times the time constant; the rest dies away.
        const double behind = (true_kpa[i] - true_kpa[i - 1]) / step_s * constant_s;
        out[i] = true_kpa[i] - behind + (out[i - 1] - true_kpa[i - 1] + behind) * keep;
    }
    return out;
}

void check_transducer(const SynthChain& chain) {
    const SynthTransducer& t = chain.transducer;
    const auto unit = find_unit(t.unit);
    if (t.unit != volt && (!unit || unit->dimension != Dimension::pressure))
        throw Error(ErrorCode::bad_option, "--pressure-unit",
                    fmt::format("\"{}\" is not a unit of pressure", t.unit),
                    "choose kPa, MPa, bar or psi, or V for a voltage");
    within(chain.pressure_offset_kpa, -most_kpa, most_kpa, "--pressure-offset", "give kPa, as in 12 or -12");
    within(chain.pressure_noise_kpa, 0, most_kpa, "--pressure-noise",
           "give the standard deviation in kPa, 0 or more");
    within(t.drift_kpa_per_s, -most_kpa, most_kpa, "--pressure-drift", "give kPa per second, as in 5 or -5");
    within(t.bandwidth_hz.value_or(1), 1, 1e6, "--pressure-bandwidth",
           "give the transducer's -3 dB frequency in Hz, 1 or more");
    within(t.limit_kpa.value_or(1), 1, most_kpa, "--pressure-limit", "give kPa, 1 to 50000");
    within(std::abs(t.kpa_per_v), 1e-3, 1e6, "--pressure-scale", "give kPa per volt, as in 500");
    within(t.zero_v, -1000, 1000, "--pressure-zero", "give the volts shown at 0 kPa, as in 0.5");
}

Channel pressure_channel(const SynthOptions& options, const Motion& motion, std::size_t samples,
                         Random& random) {
    const SynthChain& chain = options.chain;
    const SynthTransducer& transducer = chain.transducer;
    std::vector<double> reading = true_kpa(options, motion);
    if (transducer.bandwidth_hz) reading = lagging(reading, *transducer.bandwidth_hz);
    const double per_unit = kpa_per_unit(transducer);
    const double sign = transducer.reversed ? -1 : 1;
    const double zero = transducer.unit == volt ? transducer.zero_v : 0;
    const double limit_kpa = transducer.limit_kpa.value_or(most_kpa);
    Channel channel{"Pressure", transducer.unit, {}, {}, {}, {}};
    channel.values.reserve(samples);
    for (std::size_t i = 0; i < samples; ++i) {
        const double time_s = static_cast<double>(i) / chain.rate_hz;
        const double kpa = between(reading, time_s / step_s) + chain.pressure_offset_kpa +
                           transducer.drift_kpa_per_s * time_s + chain.pressure_noise_kpa * random.normal();
        channel.values.push_back(
            static_cast<float>(sign * (zero + std::clamp(kpa, -limit_kpa, limit_kpa) / per_unit)));
    }
    return channel;
}

}  // namespace evenstroke::synth
