#include "plausible.hpp"

#include <fmt/core.h>

#include <algorithm>

namespace evenstroke::pressure {

namespace {

/// A cranked engine breathes by itself, so no more than a full cylinder is trapped; ambient pressure and the
/// charge's temperature are assumed, and on drawn engines that makes up to a tenth.
constexpr double most_trapped_ratio = 1.2;
/// Diesels reach about 25, old side-valve engines come down to 5 (from memory).
constexpr double lowest_built_ratio = 4, highest_built_ratio = 28;
/// What a leak takes bends both exponents. One that leaves more than this of the gauge peak leaves them
/// above 1.05 on simulated engines; 1 is that of a gas whose heat all goes to the walls.
constexpr double mild_leak_ratio = 0.5, least_exponent = 0.95;
constexpr const char* remedy =
    "check --bore, --stroke, --rod, --compression-ratio, unit and zero; if they are right, the engine fires "
    "or its crank all but stands still at the top: disable fuel and ignition, charge the battery and record "
    "again";

}  // namespace

std::optional<std::string> implausible(const Pressure& p) {
    if (p.trapped_ratio && p.trapped_ratio->value > most_trapped_ratio)
        return fmt::format(
            "the fit finds a trapped charge of {:.0f} %, and a cranked cylinder holds no more than about "
            "100: {}",
            100 * p.trapped_ratio->value, remedy);
    if (p.compression_ratio && !p.ratio_known &&
        (p.compression_ratio->value > highest_built_ratio || p.compression_ratio->value < lowest_built_ratio))
        return fmt::format("the fit finds a compression ratio of {:.1f}, which no engine has: give it; {}",
                           p.compression_ratio->value, remedy);
    const bool mild = p.sealed_ratio && p.sealed_ratio->value > mild_leak_ratio;
    for (const auto& [stroke, exponent] :
         {std::pair{"compression", p.compression_exponent}, std::pair{"expansion", p.expansion_exponent}})
        if (mild && exponent && exponent->value < least_exponent)
            return fmt::format(
                "the fit finds an exponent of {:.2f} in {}, which no gas has when a leak takes so little: {}",
                exponent->value, stroke, remedy);
    return std::nullopt;
}

}  // namespace evenstroke::pressure
