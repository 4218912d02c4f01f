// Nonlinear least squares: the Levenberg-Marquardt method of MINPACK as carried by Eigen, behind a small face.
#pragma once
#include <Eigen/Core>
#include <cstddef>
#include <functional>
#include <string>

namespace whorl::solver {

/// Residuals at x. False: cannot be evaluated there; the step is then shortened.
using Residuals = std::function<bool(const Eigen::VectorXd& x, Eigen::VectorXd& residual)>;
/// All derivatives at x in one go, so that the caller can run them side by side. False: cannot be evaluated.
using ResidualJacobian = std::function<bool(const Eigen::VectorXd& x, Eigen::MatrixXd& jacobian)>;

struct LeastSquaresOptions {
  double tolerance{1e-10};         ///< relative change of the sum of squares and of x at which it stops
  double first_step{1.0};          ///< bound of the first step, over the scaled start
  std::size_t most_evaluations{2000};
  double difference_step{1e-6};    ///< relative, where no Jacobian is given: central differences
};

struct LeastSquaresFit {
  bool converged{};
  std::string message;             ///< how it ended, in words
  Eigen::VectorXd x, residual;
  Eigen::MatrixXd jacobian;        ///< at x
  double sum_of_squares{};
  std::size_t evaluations{}, jacobians{}, refused{};
};

/// Minimises the sum of squares of `count` residuals from x.
/// Valid: count >= number of unknowns >= 1
/// Error: never throws of its own; not converged with a message when the start cannot be evaluated, or evaluations run
/// out
/// Source: More, Garbow & Hillstrom, MINPACK-1 (1980); Eigen's unsupported module NonLinearOptimization
[[nodiscard]] LeastSquaresFit least_squares(const Residuals& residuals, const Eigen::VectorXd& start,
                                            Eigen::Index count, const LeastSquaresOptions& options = {},
                                            const ResidualJacobian& jacobian = {});

}  // namespace whorl::solver
