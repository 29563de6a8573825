// What `synth` is asked for, as the command line says it, and what that means for the library.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "command.hpp"
#include "evenstroke/synth.hpp"

namespace evenstroke::cli {

/// What the user said; empty is "not said".
struct SynthRequest {
    std::string family;
    std::optional<int> cylinders;
    std::string order, intervals;
    std::vector<std::string> faults;
    std::vector<std::string> intake_closes, exhaust_opens;  ///< DEG or CYL:DEG, after firing TDC
    std::optional<double> cam_late_deg, altitude_m;
    std::optional<double> speed_rpm, compression_ratio, noise_a, rate_hz, sync_lead_deg, seconds;
    std::string starter, sync, wheel, wheel_as = "edges", ends_by, only, format;
    bool cam = false;
    std::string pressure;  ///< the cylinder that holds the transducer
    std::optional<double> pressure_offset_kpa, pressure_noise_kpa, pressure_kpa_per_v, pressure_zero_v;
    SynthTransducer transducer;
    std::uint64_t seed = 1;
    std::string truth, output = "-";
};

/// Every option of the command; `request` must outlive them.
[[nodiscard]] std::vector<Option> synth_flags(SynthRequest& request);

/// The engine and the chain asked for. Throws BadUsage for an option without the one that it belongs to, or
/// Error{bad_option, bad_engine}.
[[nodiscard]] SynthOptions synth_options(const SynthRequest& request);

}  // namespace evenstroke::cli
