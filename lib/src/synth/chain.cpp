#include "synth/chain.hpp"

#include <algorithm>
#include <cmath>

#include "synth/radians.hpp"
#include "synth/transducer.hpp"
#include "synth/wheel.hpp"

namespace evenstroke::synth {

namespace {

constexpr double sync_level_v = 5;
constexpr double level_noise_v = 0.02;
constexpr double level_range_v = 20;
/// Beside the bars, every turn of the rotor shows a little: one armature coil is never like the others.
constexpr double rotor_turn_share = 0.35;
constexpr double hum_third_share = 0.2;  ///< rectifier loads put a third harmonic on the mains
constexpr double largest_spike_a = 300;
constexpr double smallest_spike_a = 60;

/// A converter of `bits` over +-range; beyond it clips.
double convert(double value, double range, int bits) {
    const double step = 2 * range / std::exp2(bits);
    return std::clamp(std::round(value / step) * step, -range, range);
}

/// Commutation ripple relative to the current, after the clamp's own low-pass.
double ripple_ratio(const SynthOptions& options, const Motion& motion, double place) {
    const SynthStarter& starter = options.starter;
    const double turns = between(motion.rotor_rad, place) * starter.ratio;
    const auto i = std::min(static_cast<std::size_t>(place), motion.rotor_rad.size() - 2);
    const double turn_rad_s = (motion.rotor_rad[i + 1] - motion.rotor_rad[i]) / step_s * starter.ratio;
    const double relative = turn_rad_s * starter.bars / (2 * pi * options.chain.bandwidth_hz);
    const double passed = 1 / std::sqrt(1 + relative * relative);
    return starter.ripple_pct / 100 *
           (passed * std::cos(starter.bars * turns) + rotor_turn_share * std::cos(turns));
}

/// First-order low-pass of the clamp, at the steps of the run.
std::vector<float> limited(const std::vector<float>& current_a, double bandwidth_hz) {
    std::vector<float> out(current_a);
    const double follow = 1 - std::exp(-2 * pi * bandwidth_hz * step_s);
    double state = out.empty() ? 0 : static_cast<double>(out[0]);
    for (float& value : out) {
        state += follow * (static_cast<double>(value) - state);
        value = static_cast<float>(state);
    }
    return out;
}

struct Sampler {
    const SynthOptions& options;
    const Motion& motion;
    Random random;
    std::size_t samples;

    [[nodiscard]] double time_s(std::size_t i) const {
        return static_cast<double>(i) / options.chain.rate_hz;
    }
    [[nodiscard]] double place(std::size_t i) const { return time_s(i) / step_s; }

    Channel current() {
        const SynthChain& chain = options.chain;
        const std::vector<float> record = limited(motion.current_a, chain.bandwidth_hz);
        const double phase = random.between(0, 2 * pi);
        const double gain = (1 + chain.gain_error_pct / 100) * (chain.reversed ? -1 : 1);
        const double unit = chain.mv_per_a.value_or(1);
        Channel channel{"Clamp", chain.mv_per_a ? "mV" : "A", {}, {}, {}, {}};
        channel.values.reserve(samples);
        for (std::size_t i = 0; i < samples; ++i) {
            const double t = time_s(i), hum = 2 * pi * chain.hum_hz * t + phase;
            double a = between(record, place(i)) * (1 + ripple_ratio(options, motion, place(i)));
            a = gain * a + chain.offset_a + chain.drift_a_per_s * t +
                chain.hum_a * (std::sin(hum) + hum_third_share * std::sin(3 * hum)) +
                chain.noise_a * random.normal();
            if (random.chance(chain.spikes_per_s / chain.rate_hz)) {
                const double sign = random.chance(0.5) ? 1 : -1;
                a += sign * random.between(smallest_spike_a, largest_spike_a);
            }
            channel.values.push_back(static_cast<float>(unit * convert(a, chain.limit_a, chain.adc_bits)));
        }
        return channel;
    }

    Channel battery() {
        Channel channel{"Battery", "V", {}, {}, {}, {}};
        channel.values.reserve(samples);
        const double ohm = options.battery.resistance_mohm / 1000;
        for (std::size_t i = 0; i < samples; ++i) {
            const double ripple =
                between(motion.current_a, place(i)) * ripple_ratio(options, motion, place(i));
            const double v = between(motion.battery_v, place(i)) - ohm * ripple +
                             options.chain.battery_noise_v * random.normal();
            channel.values.push_back(
                static_cast<float>(convert(v, options.chain.battery_range_v, options.chain.adc_bits)));
        }
        return channel;
    }

    /// High for `width_deg` from `from_deg` on, every `period_deg` of crank angle.
    Channel level(const char* name, double from_deg, double width_deg, double period_deg) {
        Channel channel{name, "V", {}, {}, {}, {}};
        channel.values.reserve(samples);
        for (std::size_t i = 0; i < samples; ++i) {
            const double turned = between(motion.angle_rad, place(i)) / rad_per_deg - from_deg;
            const double within = turned - period_deg * std::floor(turned / period_deg);
            const double v = (within < width_deg ? sync_level_v : 0) + level_noise_v * random.normal();
            channel.values.push_back(static_cast<float>(convert(v, level_range_v, options.chain.adc_bits)));
        }
        return channel;
    }

    Channel analog_wheel(const Wheel& wheel) {
        const SynthChain& chain = options.chain;
        const std::vector<double> shape = wheel_shape(wheel);
        constexpr double rated_rad_s = 200 * 2 * pi / 60;  // see SynthChain::wheel_v
        Channel channel{"Wheel", "V", {}, {}, {}, {}};
        channel.values.reserve(samples);
        for (std::size_t i = 0; i < samples; ++i) {
            const double speed = (between(motion.angle_rad, place(i) + 0.5) -
                                  between(motion.angle_rad, std::max(place(i) - 0.5, 0.0))) /
                                 step_s;
            const double v =
                chain.wheel_v * speed / rated_rad_s * shape_at(shape, between(motion.angle_rad, place(i))) +
                level_noise_v * random.normal();
            channel.values.push_back(static_cast<float>(convert(v, chain.wheel_limit_v, chain.adc_bits)));
        }
        return channel;
    }
};

/// The cam is high for half a cycle, from 60 degrees before position 0's firing TDC.
constexpr double cam_from_deg = -60;
constexpr double cam_width_deg = 360;

Recording edges_only(const SynthOptions& options, const Motion& motion, const Wheel& wheel, Random& random) {
    Recording recording;
    Channel teeth{"Wheel", "", {}, {}, {}, {}};
    teeth.edges = passings(motion.angle_rad, wheel.marks, 2 * pi, options.chain.edge_jitter_s, random);
    recording.channels.push_back(std::move(teeth));
    if (options.chain.cam) {
        Channel cam{"Cam", "", {}, {}, {}, {}};
        const std::vector<Mark> marks = {{(cam_from_deg + cam_width_deg) * rad_per_deg, false},
                                         {(cam_from_deg + cycle_deg) * rad_per_deg, true}};
        cam.edges = passings(motion.angle_rad, marks, 4 * pi, options.chain.edge_jitter_s, random);
        recording.channels.push_back(std::move(cam));
    }
    recording.format = "synth, edges";
    recording.duration_s = options.run.duration_s;
    return recording;
}

}  // namespace

std::vector<Edge> passings(const std::vector<double>& angle_rad, const std::vector<Mark>& marks,
                           double period_rad, double jitter_s, Random& random) {
    const auto count = static_cast<long>(marks.size());
    /// Marks passed since angle 0; falls when the crank goes back.
    const auto passed = [&](double angle) {
        const double turns = std::floor(angle / period_rad);
        const double within = angle - turns * period_rad;
        const auto next = std::upper_bound(marks.begin(), marks.end(), within,
                                           [](double a, const Mark& mark) { return a < mark.angle_rad; });
        return static_cast<long>(turns) * count + (next - marks.begin());
    };
    std::vector<Edge> edges;
    long before = passed(angle_rad.at(0));
    for (std::size_t i = 1; i < angle_rad.size(); ++i) {
        const long after = passed(angle_rad[i]);
        for (; before != after; before += after > before ? 1 : -1) {
            const bool forward = after > before;
            const long which = forward ? before : before - 1;  // counted from angle 0
            const long turn = (which >= 0 ? which : which - count + 1) / count;
            const Mark& mark = marks[static_cast<std::size_t>(which - turn * count)];
            const double at = mark.angle_rad + static_cast<double>(turn) * period_rad;
            const double part = (at - angle_rad[i - 1]) / (angle_rad[i] - angle_rad[i - 1]);
            double time = (static_cast<double>(i) - 1 + part) * step_s + jitter_s * random.normal();
            if (!edges.empty()) time = std::max(time, edges.back().time_s + 1e-9);
            edges.push_back({time, forward ? mark.rising : !mark.rising});
        }
    }
    return edges;
}

Recording measure(const SynthOptions& options, const Motion& motion, std::uint64_t seed) {
    const SynthChain& chain = options.chain;
    Random random(seed);
    const Wheel wheel = chain.wheel == WheelKind::none ? Wheel{} : make_wheel(chain, random);
    if (chain.wheel == WheelKind::edges) return edges_only(options, motion, wheel, random);

    const auto samples = static_cast<std::size_t>(std::floor(options.run.duration_s * chain.rate_hz)) + 1;
    Sampler sampler{options, motion, random, samples};
    Recording recording;
    recording.format = "synth";
    recording.rate_hz = recording.recorded_rate_hz = chain.rate_hz;
    recording.duration_s = static_cast<double>(samples - 1) / chain.rate_hz;
    if (chain.current) recording.channels.push_back(sampler.current());
    if (chain.battery) recording.channels.push_back(sampler.battery());
    if (chain.sync != SyncKind::none) {
        const double period_deg = chain.sync == SyncKind::once_per_cycle ? cycle_deg : cycle_deg / 2;
        recording.channels.push_back(
            sampler.level("Sync", -chain.sync_lead_deg, chain.sync_width_deg, period_deg));
    }
    if (chain.wheel == WheelKind::analog) recording.channels.push_back(sampler.analog_wheel(wheel));
    if (chain.cam) recording.channels.push_back(sampler.level("Cam", cam_from_deg, cam_width_deg, cycle_deg));
    if (chain.pressure_position)
        recording.channels.push_back(pressure_channel(options, motion, samples, sampler.random));
    return recording;
}

}  // namespace evenstroke::synth
