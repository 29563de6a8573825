// Systems of linear equations, solved in one place: Eigen's decompositions take long to compile.
#pragma once

#include <Eigen/Core>

namespace evenstroke::signal {

/// x [n] of A x = b, by LDLᵀ; `a` [n x n] is symmetric and not indefinite.
[[nodiscard]] Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);

/// The inverse [n x n] of such a matrix.
[[nodiscard]] Eigen::MatrixXd inverse_symmetric(const Eigen::MatrixXd& a);

/// x [n] that makes |A x - b| least, by QR with column pivoting; `a` [m x n], m >= n.
[[nodiscard]] Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);

/// The Moore-Penrose inverse [n x m] of `a` [m x n], of any rank.
[[nodiscard]] Eigen::MatrixXd pseudo_inverse(const Eigen::MatrixXd& a);

}  // namespace evenstroke::signal
