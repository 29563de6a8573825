#include "read/finish.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "evenstroke/error.hpp"
#include "values/words.hpp"

namespace evenstroke::reading {

namespace {

/// Fewer samples or edges than this hold no compression event, whatever the engine.
constexpr std::size_t least_count = 8;

/// A cranking of seconds is over before the next sample.
constexpr double slowest_hz = 1e-3;
/// Values a second over all channels, beyond what scopes keep up for seconds (from memory). The low-pass that
/// reduces a rate grows with it: here it takes 2 s and 70 MB.
constexpr double most_values_per_s = 4e9;

void say_gaps(Recording& recording) {
    std::string names;
    double longest_s = 0;
    for (const Channel& channel : recording.channels) {
        if (channel.gaps.empty()) continue;
        names += (names.empty() ? "\"" : ", \"") + channel.name + "\"";
        for (const Span& gap : channel.gaps)
            longest_s = std::max(longest_s, static_cast<double>(gap.last - gap.first) / recording.rate_hz);
    }
    if (!names.empty())
        recording.notices.push_back(
            {"gaps", fmt::format("samples are missing in {}; they were bridged, the longest for {} s; export "
                                 "again with every sample if you can",
                                 names, plain(longest_s, 3))});
}

}  // namespace

void refuse_too_short(std::size_t count, const std::string& what, const std::string& name) {
    if (count >= least_count) return;
    throw Error(ErrorCode::unusable, name, fmt::format("only {} of samples", counted(count, what)),
                "record the whole cranking: a few seconds at 1 kHz or more");
}

void refuse_absurd_rate(double rate_hz, std::size_t channels, const std::string& place,
                        const std::string& remedy) {
    // Not a number is neither.
    if (rate_hz >= slowest_hz && rate_hz * static_cast<double>(channels) <= most_values_per_s) return;
    const std::string rate =
        std::isnormal(rate_hz) ? plain(rate_hz, 3) + " samples per second" : "samples at no known rate";
    throw Error(ErrorCode::malformed, place,
                fmt::format("{} of {} are no recording of an engine being cranked", rate,
                            counted(channels, "channels")),
                remedy);
}

double whole_rate_hz(double rate_hz, double uncertainty_ratio) {
    constexpr double rounding = 1e-9;  // of a double in a chain of sums
    const double whole = std::round(rate_hz);
    if (whole >= 1 && std::abs(rate_hz / whole - 1) <= std::max(uncertainty_ratio, rounding)) return whole;
    return rate_hz;
}

void finish_samples(SampleStore& store, Recording& recording, const ReadOptions& options) {
    store.finish();
    recording.rate_hz = recording.recorded_rate_hz / static_cast<double>(store.factor());
    std::vector<Channel> kept;
    for (std::size_t i = 0; i < store.channels.size(); ++i) {
        ChannelSamples& samples = store.channels[i];
        Channel& channel = recording.channels[i];
        if (samples.empty()) {
            recording.empty_channels.push_back(std::move(channel.name));
            continue;
        }
        channel.values = std::move(samples.values);
        channel.values.shrink_to_fit();
        channel.gaps = std::move(samples.gaps);
        channel.clipped = std::move(samples.clipped);
        kept.push_back(std::move(channel));
    }
    if (kept.empty())
        throw Error(ErrorCode::unusable, recording.path,
                    "no channel holds numbers: every cell is empty, NaN or over-range",
                    "check the probe, its range and the export");
    recording.channels = std::move(kept);
    if (!recording.empty_channels.empty()) {
        std::string empty;
        for (const std::string& name : recording.empty_channels)
            empty += (empty.empty() ? "\"" : ", \"") + name + "\"";
        recording.notices.push_back(
            {"empty-channel", "no numbers in " + empty + ": left out; export only the channels in use"});
    }
    recording.duration_s =
        static_cast<double>(recording.channels.front().values.size() - 1) / recording.rate_hz;
    if (store.bounded())
        recording.notices.push_back(
            {"reduced",
             fmt::format("a long recording: low-passed and reduced to {} samples/s to keep at most "
                         "{} values; cut it to the cranking to keep its full rate",
                         plain(recording.rate_hz, 6), options.most_values)});
    say_gaps(recording);
}

void check(const ReadOptions& options) {
    if (options.rate_hz && !(*options.rate_hz > 0 && std::isfinite(*options.rate_hz)))
        throw Error(ErrorCode::bad_option, "--rate", fmt::format("{} samples per second", *options.rate_hz),
                    "give the rate in samples per second, as in --rate 10000");
    if (!(options.keep_rate_hz > 0))
        throw Error(ErrorCode::bad_option, "keep_rate_hz", "the rate to keep is not above 0",
                    "give a rate above 0");
}

}  // namespace evenstroke::reading
