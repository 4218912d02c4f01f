#include "solver/least_squares.hpp"

#include <algorithm>
#include <cmath>
#if defined(__GNUC__)
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wconversion"
#pragma GCC diagnostic ignored "-Wsign-conversion"
#pragma GCC diagnostic ignored "-Wshadow"
#pragma GCC diagnostic ignored "-Wunused-parameter"
#pragma GCC diagnostic ignored "-Wfloat-conversion"
#endif
#include <unsupported/Eigen/NonLinearOptimization>
#if defined(__GNUC__)
#pragma GCC diagnostic pop
#endif

namespace whorl::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

bool finite(const VectorXd& v) { return (v.array() * 0.0).sum() == 0.0; }

// What Eigen's class asks for.
struct Functor {
  using Scalar = double;
  enum { InputsAtCompileTime = Eigen::Dynamic, ValuesAtCompileTime = Eigen::Dynamic };
  using InputType = VectorXd;
  using ValueType = VectorXd;
  using JacobianType = MatrixXd;

  const Residuals& residuals;
  const ResidualJacobian& given;
  const LeastSquaresOptions& options;
  Index unknowns, count;
  double refusal{};  ///< residual where none can be had: far above any seen
  mutable std::size_t evaluations{}, jacobians{}, refused{};

  [[nodiscard]] int inputs() const { return static_cast<int>(unknowns); }
  [[nodiscard]] int values() const { return static_cast<int>(count); }

  bool evaluate(const VectorXd& x, VectorXd& r) const {
    ++evaluations;
    return finite(x) && residuals(x, r) && finite(r);
  }
  int operator()(const VectorXd& x, VectorXd& r) const {
    if (!evaluate(x, r)) {
      ++refused;
      r.setConstant(count, refusal);
    }
    return 0;
  }
  int df(const VectorXd& x, MatrixXd& jacobian) const {
    ++jacobians;
    if (given) return given(x, jacobian) && jacobian.allFinite() ? 0 : -1;
    VectorXd up(count), down(count), at = x;
    for (Index j = 0; j < unknowns; ++j) {
      const double h = options.difference_step * std::max(std::abs(x[j]), 1e-12);
      at[j] = x[j] + h;
      const bool above = evaluate(at, up);
      at[j] = x[j] - h;
      const bool below = evaluate(at, down);
      at[j] = x[j];
      if (!above && !below) return -1;
      if (!above || !below) {
        VectorXd here(count);
        if (!evaluate(x, here)) return -1;
        jacobian.col(j) = above ? VectorXd((up - here) / h) : VectorXd((here - down) / h);
      } else {
        jacobian.col(j) = (up - down) / (2.0 * h);
      }
    }
    return 0;
  }
};

}  // namespace

LeastSquaresFit least_squares(const Residuals& residuals, const VectorXd& start, Index count,
                              const LeastSquaresOptions& options, const ResidualJacobian& jacobian) {
  LeastSquaresFit fit;
  fit.x = start;
  if (start.size() < 1 || count < start.size()) {
    fit.message = "fewer residuals than unknowns";
    return fit;
  }
  Functor functor{residuals, jacobian, options, start.size(), count, 0.0};
  VectorXd first(count);
  if (!functor.evaluate(start, first)) {
    fit.message = "the start cannot be evaluated";
    return fit;
  }
  functor.refusal = 1e3 * (first.lpNorm<Eigen::Infinity>() + 1.0);
  Eigen::LevenbergMarquardt<Functor> method(functor);
  method.parameters.ftol = options.tolerance;
  method.parameters.xtol = options.tolerance;
  method.parameters.gtol = 0.0;
  method.parameters.factor = options.first_step;
  method.parameters.maxfev = static_cast<Index>(options.most_evaluations);
  const auto status = method.minimize(fit.x);
  fit.evaluations = functor.evaluations;
  fit.jacobians = functor.jacobians;
  fit.refused = functor.refused;
  fit.residual.setZero(count);
  fit.jacobian.setZero(count, start.size());
  const bool good = functor.evaluate(fit.x, fit.residual) && functor.df(fit.x, fit.jacobian) == 0;
  fit.sum_of_squares = fit.residual.squaredNorm();
  namespace S = Eigen::LevenbergMarquardtSpace;
  switch (status) {
    case S::RelativeReductionTooSmall:
    case S::RelativeErrorTooSmall:
    case S::RelativeErrorAndReductionTooSmall:
    case S::CosinusTooSmall:
    case S::FtolTooSmall:
    case S::XtolTooSmall:
    case S::GtolTooSmall:
      fit.converged = good;
      fit.message = good ? "converged" : "the solution cannot be evaluated";
      break;
    case S::TooManyFunctionEvaluation: fit.message = "evaluations ran out"; break;
    default: fit.message = "derivatives cannot be evaluated";
  }
  return fit;
}

}  // namespace whorl::solver
