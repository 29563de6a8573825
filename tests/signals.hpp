// Signals by formula for the tests of the early stages: not an engine, only the shape of cranking.
#pragma once

#include <cmath>
#include <numbers>
#include <random>

#include "evenstroke/engine.hpp"
#include "evenstroke/recording.hpp"

namespace signals {

/// What to draw. Times in seconds, levels in amperes.
struct Crank {
    double rate_hz = 2000;
    double before_s = 0.3;
    double cranking_s = 4.0;
    double after_s = 0.3;
    double speed_rpm = 200;       ///< mean over the cranking
    double last_speed_ratio = 1;  ///< the speed changes evenly and ends at this share of its mean
    double mean_a = 180;
    double hump_a = 60;
    double inrush_a = 500;  ///< decays with 80 ms
    double noise_a = 0.5;
    bool starts = false;  ///< the load dies away over 0.2 s instead of at once
    evenstroke::EngineLayout layout = evenstroke::make_layout(4, {}, {}, {});
    double first_tdc_s = 0.1;  ///< of position 0, after cranking begins
};

/// Crank angle at `time_s` after cranking began, 0 at position 0's firing TDC.
inline double angle_deg(const Crank& crank, double time_s) {
    const double rise = crank.last_speed_ratio - 1;
    const auto turned = [&](double t) { return t * (1 - rise) + rise * t * t / crank.cranking_s; };
    return (turned(time_s) - turned(crank.first_tdc_s)) * 6 * crank.speed_rpm;
}

/// Load while cranking: a smooth hump about every firing TDC.
inline double load_a(const Crank& crank, double time_s) {
    const double hump_sd_deg = std::min(30.0, 180.0 / crank.layout.cylinders());
    double load = crank.mean_a + (crank.inrush_a - crank.mean_a) * std::exp(-time_s / 0.08);
    for (const double tdc_deg : crank.layout.firing_tdc_deg()) {
        const double away_deg = std::remainder(angle_deg(crank, time_s) - tdc_deg, evenstroke::cycle_deg);
        load += crank.hump_a * std::exp(-away_deg * away_deg / (2 * hump_sd_deg * hump_sd_deg));
    }
    return load;
}

/// The current of one burst with rest before and after.
inline std::vector<float> current_a(const Crank& crank, unsigned seed = 1) {
    std::minstd_rand random(seed);
    const double end_s = crank.before_s + crank.cranking_s;
    const auto count = static_cast<std::size_t>((end_s + crank.after_s) * crank.rate_hz);
    std::vector<float> values(count);
    for (std::size_t i = 0; i < count; ++i) {
        const double t = static_cast<double>(i) / crank.rate_hz;
        double load = 0;
        if (t >= crank.before_s && t < end_s) load = load_a(crank, t - crank.before_s);
        if (t >= end_s && crank.starts) load = load_a(crank, crank.cranking_s) * std::exp(-(t - end_s) / 0.2);
        const double noise = static_cast<double>(random() % 2001) / 1000.0 - 1.0;
        values[i] = static_cast<float>(load + crank.noise_a * noise);
    }
    return values;
}

/// A sync that rises at position 0's TDC and stays high for 10 ms, every `every_deg`.
inline std::vector<float> sync_v(const Crank& crank, double every_deg = 720) {
    std::vector<float> values(current_a(crank).size(), 0.0F);
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double t = static_cast<double>(i) / crank.rate_hz - crank.before_s;
        if (t < 0 || t > crank.cranking_s) continue;
        const double since_deg = std::fmod(angle_deg(crank, t) + 100 * every_deg, every_deg);
        if (since_deg < 0.010 * 6 * crank.speed_rpm) values[i] = 5.0F;
    }
    return values;
}

inline evenstroke::Recording recording(double rate_hz, std::vector<evenstroke::Channel> channels) {
    evenstroke::Recording r{.path = "made.csv", .rate_hz = rate_hz, .recorded_rate_hz = rate_hz};
    r.channels = std::move(channels);
    if (!r.channels.empty() && !r.channels[0].values.empty())
        r.duration_s = static_cast<double>(r.channels[0].values.size() - 1) / rate_hz;
    return r;
}

inline evenstroke::Recording clamp_and_sync(const Crank& crank) {
    return recording(crank.rate_hz, {{.name = "Clamp", .unit = "A", .values = current_a(crank)},
                                     {.name = "Cam", .unit = "V", .values = sync_v(crank)}});
}

/// First-order high-pass, as a capacitor in series makes it; begins at rest.
inline std::vector<float> high_passed(std::vector<float> values, double rate_hz, double corner_hz) {
    const double keep = 1 / (1 + 2 * std::numbers::pi * corner_hz / rate_hz);
    double out = 0;
    double before = static_cast<double>(values.front());
    for (float& v : values) {
        out = keep * (out + static_cast<double>(v) - before);
        before = static_cast<double>(v);
        v = static_cast<float>(out);
    }
    return values;
}

}  // namespace signals
