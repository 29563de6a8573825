// The time column: is it even, what is its step, does it go wrong somewhere?
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>

namespace evenstroke::reading {

/// How finely the time stamps are printed. Writers print a fixed number of decimals, or of significant
/// digits, and may strip zeros at the end: so the finest seen counts.
class StampResolution {
  public:
    void see(std::string_view stamp);
    /// The least difference that two stamps near `time` can show, in the column's unit.
    [[nodiscard]] double quantum(double time) const;

  private:
    int decimals_ = 0;
    int digits_ = 1;
};

/// What the first block of stamps says.
struct TimeFit {
    double step = 0;         ///< between rows, in the column's unit; 0 when time does not advance
    bool even = true;        ///< every stamp lies on first + k * step within what is printed
    bool exact = false;      ///< nearly all differences are the same: the step is a whole number of quanta
    bool quantised = false;  ///< the step is near or below what the stamps can show
};

/// Fits a step to stamps in file order. Stamps that go backwards or repeat are left to RowClock, which
/// knows their lines.
[[nodiscard]] TimeFit fit_times(std::span<const double> times, const StampResolution& resolution);

/// Follows the rows of a sampled file and says where each belongs on the even grid.
class RowClock {
  public:
    enum class Verdict { on_grid, uneven, repeated, backwards };
    struct Place {
        Verdict verdict = Verdict::on_grid;
        std::size_t missing = 0;  ///< grid samples that the file leaves out before this row
    };

    RowClock(const TimeFit& fit, StampResolution resolution);
    /// Takes the next stamp; `text` is how it is printed.
    [[nodiscard]] Place place(double time, std::string_view text);
    [[nodiscard]] double first() const { return first_; }
    [[nodiscard]] double last() const { return last_; }
    [[nodiscard]] std::size_t rows() const { return rows_; }
    /// The quantum of the stamps near the last one.
    [[nodiscard]] double quantum() const { return resolution_.quantum(last_); }

  private:
    /// What printing may shift a stamp by; 0 where the step is printed exactly.
    [[nodiscard]] double blur(double quantum) const;

    double step_;
    bool exact_;
    StampResolution resolution_;
    std::size_t rows_ = 0;
    std::size_t holes_ = 0;
    double first_ = 0;
    double last_ = 0;
    double expected_ = 0;  ///< where the last row belongs
};

}  // namespace evenstroke::reading
