#include "linear.hpp"

#include <Eigen/Cholesky>
#include <Eigen/QR>

namespace evenstroke::signal {

Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
    return a.ldlt().solve(b);
}

Eigen::MatrixXd inverse_symmetric(const Eigen::MatrixXd& a) {
    return a.ldlt().solve(Eigen::MatrixXd::Identity(a.rows(), a.cols()));
}

Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
    return a.colPivHouseholderQr().solve(b);
}

Eigen::MatrixXd pseudo_inverse(const Eigen::MatrixXd& a) {
    return a.completeOrthogonalDecomposition().pseudoInverse();
}

}  // namespace evenstroke::signal
