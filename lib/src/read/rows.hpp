// Rows of a sampled text file onto one even time base.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "read/clock.hpp"
#include "read/samples.hpp"

namespace evenstroke::reading {

/// Where a row stands, for messages.
struct RowPlace {
    const std::string& name;
    std::size_t line = 0;
    std::string_view time_text;
};

/// Puts rows on the grid first + k * step: as they are when evenly sampled, rows left out as gaps; by linear
/// interpolation from where sampling turns out uneven.
class GridRows {
  public:
    GridRows(const TimeFit& fit, const StampResolution& resolution);
    /// Throws Error{malformed} when time goes backwards, repeats, or jumps too far.
    void push(double time, const std::vector<float>& samples, const RowPlace& place, SampleStore& store);

    [[nodiscard]] bool resampled() const { return uneven_; }
    [[nodiscard]] std::size_t missing_rows() const { return missing_; }
    [[nodiscard]] std::size_t rows() const { return clock_.rows(); }
    [[nodiscard]] double first() const { return clock_.first(); }
    /// The grid's step as the whole file gives it.
    [[nodiscard]] double step(const SampleStore& store) const;
    /// How far a stamp may be from the truth, as a share of the whole time.
    [[nodiscard]] double rate_uncertainty_ratio() const;

  private:
    void push_even(std::size_t missing, const std::vector<float>& samples, const RowPlace& place,
                   SampleStore& store);
    void push_uneven(double time, const std::vector<float>& samples, const RowPlace& place,
                     SampleStore& store);
    void check_room(double added, const RowPlace& place) const;

    TimeFit fit_;
    RowClock clock_;
    bool uneven_;
    std::size_t missing_ = 0;
    double inserted_ = 0;
    double before_ = 0;
    std::vector<float> samples_before_;
    std::vector<float> row_;
};

}  // namespace evenstroke::reading
