// The few statistics the stages share.
#pragma once

#include <span>
#include <vector>

namespace evenstroke::signal {

/// Quantile of Student's t: P(T <= result) = probability. degrees > 0.
[[nodiscard]] double student_t_quantile(double probability, double degrees);
/// Quantile of Fisher's F.
[[nodiscard]] double fisher_f_quantile(double probability, double degrees_between, double degrees_within);

/// Mean of a non-empty span, two-pass.
[[nodiscard]] double mean(std::span<const double> values);
/// Standard deviation with n-1, two-pass; values.size() >= 2.
[[nodiscard]] double standard_deviation(std::span<const double> values);
/// Median of a non-empty vector (taken by value: it is reordered).
[[nodiscard]] double median(std::vector<double> values);

}  // namespace evenstroke::signal
