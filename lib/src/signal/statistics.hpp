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
/// Quantile of Fisher's F.
[[nodiscard]] double fisher_f_quantile(double probability, double degrees_between, double degrees_within);

/// P(F > ratio): how often chance alone gives a ratio as large. ratio >= 0.
[[nodiscard]] double fisher_f_tail(double ratio, double degrees_between, double degrees_within);
/// P(|T| > |t|), two-sided.
[[nodiscard]] double student_t_tail(double t, double degrees);

/// Mean of a non-empty span, two-pass.
[[nodiscard]] double mean(std::span<const double> values);
/// Standard deviation with n-1, two-pass; values.size() >= 2.
[[nodiscard]] double standard_deviation(std::span<const double> values);
/// Median of a non-empty vector (taken by value: it is reordered).
[[nodiscard]] double median(std::vector<double> values);

/// A straight line y = intercept + slope x by least squares, with standard errors.
struct Line {
    double intercept = 0;
    double slope = 0;
    double intercept_se = 0;
    double slope_se = 0;
    double residual_sd = 0;  ///< n - 2 degrees of freedom
    double r2_ratio = 0;     ///< share of the variance that the line explains; 1 when y is constant
};

/// Empty when there are fewer than three points or x does not vary. x and y are equally long.
[[nodiscard]] std::optional<Line> fit_line(std::span<const double> x, std::span<const double> y);

/// One-way analysis of variance: do groups differ by more than their own scatter?
struct Variance {
    double between = 0;  ///< sum of squares
    double within = 0;   ///< sum of squares
    double degrees_between = 0;
    double degrees_within = 0;
    double f_ratio = 0;  ///< infinite when nothing scatters within the groups but they differ

    /// Standard deviation within groups.
    [[nodiscard]] double within_sd() const;
};

/// Empty when there are fewer than two groups with values, no group has two, or nothing varies at all.
[[nodiscard]] std::optional<Variance> one_way_variance(const std::vector<std::vector<double>>& groups);

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
