// Fitting what is uncertain to measured diameters, and saying how far the result can be trusted.
#pragma once
#include <Eigen/Core>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "whorl/engine/batch.hpp"
#include "whorl/engine/uncertain.hpp"

namespace whorl::study {

/// Which diameter of the estimate is held against a measured one: the mean over the run, or one of the two answers.
enum class HeldAgainst { run_mean, threads, line };

/// One setting that was tried, with the diameter that came out.
struct Trial {
  std::string name;               ///< "row 3", for messages
  model::CaseInput input;         ///< the case at this setting
  double diameter_m{};            ///< measured mean, by length
  double log_sd{};                ///< standard deviation of ln(diameter): of the mean, and between repeated runs
  std::vector<double> settings;   ///< values that vary over the trials, for the regression; same order everywhere
  HeldAgainst answer{HeldAgainst::run_mean};
};

/// One fitted parameter. It runs over the distribution that was stated for it: p = quantile(Phi(z)), so that limits
/// hold, and the stated uncertainty is a standard normal prior of z.
struct FittedParameter {
  std::string key;
  engine::UncertainKind kind{};
  double prior{}, prior_low{}, prior_high{};  ///< median, 5 and 95 % before [SI]
  double value{}, low{}, high{};              ///< and after
  double z{}, z_sd{1.0};                      ///< in units of the prior
  bool at_limit{};                            ///< beyond 2.5 prior standard deviations: prior and data disagree
};

/// Two parameters that the data cannot tell apart.
struct Confounded {
  std::size_t first{}, second{};
  double correlation{};
};

/// What one way of predicting is worth: root mean square of ln(measured/predicted).
struct Prediction {
  bool made{};
  std::string reason;
  double fitted{};     ///< over the trials themselves
  double left_out{};   ///< each setting predicted from the others
};

struct Calibration {
  bool converged{};
  std::string message;
  std::vector<FittedParameter> parameters;
  Eigen::MatrixXd covariance;        ///< of z
  std::vector<std::string> used;     ///< names of the trials
  std::vector<std::string> not_used; ///< with the reason
  std::vector<double> measured_m, before_m, after_m, log_sd;  ///< per trial used
  double chi_square{};               ///< of the data, after
  double widened{1.0};  ///< intervals are this much wider: root of chi_square per degree of freedom, where above 1
  std::vector<double> information;  ///< singular values of the data in units of the prior: below 1 a direction is known
                                    ///< from the prior alone
  std::vector<Confounded> confounded;
  Prediction uncalibrated, calibrated, regression;
  std::size_t model_runs{};
};

struct CalibrateOptions {
  double difference{0.05};     ///< step of z for derivatives, central
  double tolerance{1e-5};
  std::size_t most_rounds{60};
  bool leave_out{true};
};

/// Weighted least squares with priors: minimises sum [(ln d_i - ln d(p))/s_i]^2 + sum z_k^2.
/// Eq: calibration-posterior
/// Valid: model nearly linear in z over the posterior (intervals are linearised; z keeps limits); trials independent
/// Error: not converged with a message when no trial gives fibre in the model, or the minimisation fails. Trials at
///        which the model gives no fibre are not used, and said
/// Source: Gauss-Newton approximation of a Bayesian posterior, e.g. Seber & Wild, Nonlinear Regression (1989) (from
/// memory)
[[nodiscard]] Calibration calibrate(const std::vector<Trial>& trials,
                                    const std::vector<engine::UncertainInput>& parameters,
                                    const engine::BatchRunner& runner, const CalibrateOptions& options = {});

/// A plain power law of the settings, ln d = c_0 + sum c_k x_k.
struct PowerLaw {
  Eigen::VectorXd coefficients;
  std::vector<bool> logarithmic;  ///< x_k is the logarithm of the setting, else the setting itself
};

/// Which settings are above zero in every trial: these enter by their logarithm, a setting that is zero somewhere (no
/// overpressure) as it is.
[[nodiscard]] std::vector<bool> logarithmic_settings(const std::vector<std::vector<double>>& settings);

/// Least squares of least norm where there are more coefficients than settings tell.
/// Eq: power-law
/// Valid: settings marked logarithmic are above zero
[[nodiscard]] PowerLaw fit_power_law(const std::vector<std::vector<double>>& settings,
                                     const std::vector<double>& log_diameter, const std::vector<double>& weight,
                                     std::vector<bool> logarithmic);
[[nodiscard]] double power_law(const PowerLaw& law, const std::vector<double>& settings);

/// Settings that would tell most.
struct NextTrial {
  std::size_t candidate{};
  double diameter_m{};          ///< expected there
  double narrowing{};  ///< of the wanted standard deviation by the trials up to and including this one: after/before
  std::size_t as_good{};        ///< other candidates that would narrow as much in its place, to a thousandth
};
enum class Aim {
  parameters,  ///< D-optimal: volume of the parameters' ellipsoid
  setting,     ///< c-optimal: ln diameter at the case's own setting
  region,      ///< I-optimal: mean variance of ln diameter over all candidates that give continuous fibre
  window       ///< I-optimal, each of them weighted by how near its diameter is to a limit of what is wanted
};
/// Limits of the wanted diameter, for Aim::window.
struct DiameterLimits {
  std::optional<double> least_m, most_m;
};
struct NextTrials {
  std::string message;               ///< empty: found
  std::vector<NextTrial> trials;
  std::size_t feasible{};            ///< candidates that give continuous fibre
  std::size_t model_runs{};
};
struct NextTrialsOptions {
  std::size_t count{3};
  Aim aim{Aim::parameters};
  double log_sd{0.1};                ///< of the measured ln diameter of one more trial
  DiameterLimits limits;
  HeldAgainst answer{HeldAgainst::run_mean};  ///< whose diameter is wanted
  double difference{0.05};           ///< step of z for derivatives, central
};
/// Greedy choice, then exchanges while they improve. The same candidate may be chosen twice. Of candidates that tell as
/// much to a thousandth the one whose diameter is farthest from what was measured.
/// Weights of Aim::window: phi((ln d - ln limit)/s) summed over the limits, s^2 = variance of the calibrated ln d there
/// + log_sd^2 (own closure): the boundary of the window is where ln d meets a limit, and its blur there is what is
/// averaged.
/// Eq: next-trials
/// Valid: linear about the calibrated parameters; every trial measured as well as `log_sd` says
/// Source: Fedorov, Theory of Optimal Experiments (1972) (from memory)
[[nodiscard]] NextTrials next_trials(const Calibration& calibration,
                                     const std::vector<engine::UncertainInput>& parameters,
                                     const model::CaseInput& target, const std::vector<model::CaseInput>& candidates,
                                     const NextTrialsOptions& options, const engine::BatchRunner& runner);

/// The same from derivatives that are known: rows of `slopes` are d ln(d)/dz of the candidates. `goal`: weighted sum of
/// g g^T over the settings that matter
/// (not used by Aim::parameters); trace(covariance goal) is what is made small. Tested against all subsets.
[[nodiscard]] std::vector<std::size_t> choose_trials(const Eigen::MatrixXd& precision, const Eigen::MatrixXd& slopes,
                                                     const Eigen::MatrixXd& goal, std::size_t count, Aim aim,
                                                     double log_sd);

}  // namespace whorl::study
