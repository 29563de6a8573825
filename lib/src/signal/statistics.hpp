// The few statistics the stages share.
#pragma once

#include <optional>
#include <span>
#include <vector>

namespace evenstroke::signal {

/// A two-sided 95 % interval reaches up to this quantile …
inline constexpr double two_sided_95 = 0.975;
/// … which of the normal distribution is 1.96 standard deviations from the mean (any table).
inline constexpr double normal_95 = 1.96;

/// Quantile of Student's t: P(T <= result) = probability. degrees > 0.
[[nodiscard]] double student_t_quantile(double probability, double degrees);
/// P(|T| > |t|), two-sided.
[[nodiscard]] double student_t_tail(double t, double degrees);

/// Mean of a non-empty span, two-pass.
[[nodiscard]] double mean(std::span<const double> values);
/// Standard deviation with n-1, two-pass; values.size() >= 2.
[[nodiscard]] double standard_deviation(std::span<const double> values);
/// Median of a non-empty vector (taken by value: it is reordered).
[[nodiscard]] double median(std::vector<double> values);

/// The slope of a straight line by least squares, with its standard error.
struct Line {
    double slope = 0;
    double slope_se = 0;
    double residual_sd = 0;  ///< n - 2 degrees of freedom
};

/// Empty when there are fewer than three points or x does not vary. x and y are equally long.
[[nodiscard]] std::optional<Line> fit_line(std::span<const double> x, std::span<const double> y);

/// Welch's test: do two means differ by more than their scatter?
struct Welch {
    double difference = 0;  ///< second less first
    double standard_error = 0;
    double t_ratio = 0;
    double degrees = 0;  ///< Welch-Satterthwaite
    double p = 1;        ///< two-sided
};

/// Empty when a side has fewer than two values, or nothing scatters on either.
[[nodiscard]] std::optional<Welch> welch_test(std::span<const double> first, std::span<const double> second);

/// Holm's step-down correction: p values such that those below a level keep the chance of any false one
/// below it. Same order as given. Source: S. Holm, Scand. J. Statist. 6 (1979) 65-70 (from memory).
[[nodiscard]] std::vector<double> holm_corrected(const std::vector<double>& p);

}  // namespace evenstroke::signal
