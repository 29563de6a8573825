#include "read/rows.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "evenstroke/error.hpp"
#include "read/cells.hpp"

namespace evenstroke::reading {

namespace {

/// A pause longer than so many usual steps of an unevenly sampled file is a gap, not an interpolation.
constexpr double longest_bridged_steps = 10;
/// Rows that pauses may add: ten for every row there is, and so many for a short file, of all channels'
/// values no more than a recording keeps.
constexpr double room_for_short_files = 1e6;
constexpr double values_for_short_files = 8e6;
constexpr double room_per_row = 10;

[[noreturn]] void refuse_time(const RowPlace& place, const std::string& problem, const std::string& remedy) {
    throw Error(ErrorCode::malformed, place.name + ":" + std::to_string(place.line), problem, remedy);
}

}  // namespace

GridRows::GridRows(const TimeFit& fit, const StampResolution& resolution)
    : fit_(fit), clock_(fit, resolution), uneven_(!fit.even) {}

void GridRows::check_room(double added, const RowPlace& place) const {
    const double room =
        std::min(room_for_short_files, values_for_short_files / static_cast<double>(samples_before_.size())) +
        room_per_row * static_cast<double>(clock_.rows());
    if (inserted_ + added > room)
        refuse_time(
            place,
            "time jumps to " + std::string(place.time_text) + ": far more is missing than was recorded",
            "cut the file to the part in which the engine is cranked");
}

void GridRows::push(double time, const std::vector<float>& samples, const RowPlace& place,
                    SampleStore& store) {
    const double last = clock_.last();
    const bool first_row = clock_.rows() == 0;
    const RowClock::Place found = clock_.place(time, place.time_text);
    if (found.verdict == RowClock::Verdict::backwards)
        refuse_time(place, "time goes backwards to " + std::string(place.time_text),
                    "sort the rows by time, or keep one capture only");
    if (found.verdict == RowClock::Verdict::repeated || (uneven_ && !first_row && time == last))
        refuse_time(place, "the time " + std::string(place.time_text) + " appears twice",
                    "remove the row that repeats, or export the time with more digits");
    if (found.verdict == RowClock::Verdict::uneven) uneven_ = true;
    if (uneven_ && !first_row)
        push_uneven(time, samples, place, store);
    else
        push_even(found.missing, samples, place, store);
    before_ = time;
    samples_before_ = samples;
}

void GridRows::push_even(std::size_t missing, const std::vector<float>& samples, const RowPlace& place,
                         SampleStore& store) {
    if (missing > 0) {
        check_room(static_cast<double>(missing), place);
        inserted_ += static_cast<double>(missing);
        missing_ += missing;
        row_.assign(samples.size(), std::numeric_limits<float>::quiet_NaN());
        for (std::size_t i = 0; i < missing; ++i) store.push_row(row_);
    }
    store.push_row(samples);
}

void GridRows::push_uneven(double time, const std::vector<float>& samples, const RowPlace& place,
                           SampleStore& store) {
    const double pause = time - before_;
    check_room(pause / fit_.step, place);
    inserted_ += std::max(0.0, pause / fit_.step - 1);
    const bool gap = pause > longest_bridged_steps * fit_.step;
    row_.resize(samples.size());
    for (;;) {
        const double at = clock_.first() + static_cast<double>(store.samples()) * fit_.step;
        // Room for rounding, so that a stamp on the grid is its own sample.
        if (at > time + 1e-6 * fit_.step) return;
        const double share = std::clamp((at - before_) / pause, 0.0, 1.0);
        for (std::size_t i = 0; i < row_.size(); ++i) {
            const float a = samples_before_[i];
            const float b = samples[i];
            if (gap && share > 0 && share < 1)
                row_[i] = std::numeric_limits<float>::quiet_NaN();
            else if (is_number(a) && is_number(b))
                row_[i] = static_cast<float>(static_cast<double>(a) +
                                             share * (static_cast<double>(b) - static_cast<double>(a)));
            else
                row_[i] = share < 0.5 ? a : b;
        }
        store.push_row(row_);
    }
}

double GridRows::step(const SampleStore& store) const {
    if (uneven_ || missing_ > 0 || store.samples() < 2) return fit_.step;
    return (clock_.last() - clock_.first()) / static_cast<double>(store.samples() - 1);
}

double GridRows::rate_uncertainty_ratio() const {
    return 2 * clock_.quantum() / std::max(clock_.last() - clock_.first(), fit_.step);
}

}  // namespace evenstroke::reading
