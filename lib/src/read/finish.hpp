// The end of every reader: samples into the recording, and what must be said about them.
#pragma once

#include <cstddef>
#include <string>

#include "evenstroke/read.hpp"
#include "read/samples.hpp"

namespace evenstroke::reading {

/// Throws Error{unusable} when there is too little to look at.
void refuse_too_short(std::size_t count, const std::string& what, const std::string& name);

/// The rate rounded to whole hertz when it is that within `uncertainty_ratio`.
[[nodiscard]] double whole_rate_hz(double rate_hz, double uncertainty_ratio);

/// Throws Error{malformed} for a rate at which nobody records so many channels of an engine being cranked, or
/// no number at all. `place` says what gives the rate, `remedy` what to do about it.
void refuse_absurd_rate(double rate_hz, std::size_t channels, const std::string& place,
                        const std::string& remedy);

/// Moves the samples into recording.channels, drops channels that hold no number, sets rate and duration
/// from recorded_rate_hz, adds notices. Throws Error{unusable} when no channel holds a number.
void finish_samples(SampleStore& store, Recording& recording, const ReadOptions& options);

/// Throws Error{bad_option} for a rate that is not a positive number.
void check(const ReadOptions& options);

}  // namespace evenstroke::reading
