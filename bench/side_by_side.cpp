// The inertial lumped jet solved by the march of this program and by CVODE, and everything another program
// needs to solve the same one: constants, start, tolerances' scales, states with their rates. One JSON
// document per case on standard output; side_by_side.py reads it, adds SciPy and prints the table.
#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_config.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <exception>
#include <functional>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "jets.hpp"
#include "solver/march.hpp"
#include "whorl/model/jet_axes.hpp"

namespace {

using namespace whorl;
using S = model::JetState;
using State = std::array<double, S::kSize>;
using nlohmann::json;

// Time of this process on the processor: what others do on the machine does not count.
double cpu_seconds() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

// Smallest mean of several batches: the one least disturbed.
double seconds_per_call(const std::function<void()>& call) {
  call();
  double best = 1e300;
  for (int batch = 0; batch < 7; ++batch) {
    const double start = cpu_seconds();
    int calls = 0;
    double spent = 0.0;
    do {
      call();
      ++calls;
      spent = cpu_seconds() - start;
    } while (spent < 4e-3);
    best = std::min(best, spent / calls);
  }
  return best;
}

/// What all programs solve: the equations, from the orifice to the collector; the fibre freezes where it
/// turns solid.
struct Problem {
  const model::JetContext* context{};
  State start{};
  State scale{};
  double end_time_s{};

  explicit Problem(const model::JetContext& jet) : context(&jet) {
    const auto from = model::jet_start(jet);
    std::copy_n(from.begin(), start.size(), start.begin());
    const double speed = jet.exit_speed_m_s + jet.speed_rad_s * jet.collector_radius_m + 0.1;
    for (std::size_t i : {S::kX, S::kY, S::kZ, S::kArc}) scale[i] = jet.collector_radius_m;
    for (std::size_t i : {S::kVx, S::kVy, S::kVz}) scale[i] = speed;
    scale[S::kSolvent] = jet.fluid->initial.solvent_ratio;
    scale[S::kTemperature] = 100.0;
    scale[S::kDragWork] = speed * speed;
    end_time_s = 20.0 * 2.0 * model::kPi / jet.speed_rad_s;
  }
  void rates(const State& y, State& out, bool solid) const {
    const auto local = model::jet_local(*context, y.data(), y[S::kSolvent], solid);
    model::jet_rates(*context, local, y.data(), false, out.data());
  }
  [[nodiscard]] double collector(const State& y) const {
    return y[S::kX] * y[S::kX] + y[S::kY] * y[S::kY] -
           context->collector_radius_m * context->collector_radius_m;
  }
  [[nodiscard]] double margin(const State& y) const {
    const double phi = model::polymer_volume_fraction(*context->fluid, y[S::kSolvent]);
    return model::solid_margin(*context->fluid, phi, y[S::kTemperature]);
  }
};

struct Outcome {
  bool reached{};
  bool solid{};
  double t{};
  State y{};
  long rhs_calls{};
  long steps{};
};

/// Largest component error at the collector, relative to the scales of the tolerances.
double error_of(const Problem& problem, const Outcome& got, const Outcome& reference) {
  if (!got.reached || got.solid != reference.solid) return 1e300;
  double worst = 0.0;
  for (std::size_t i = 0; i < got.y.size(); ++i) {
    worst = std::max(worst, std::abs(got.y[i] - reference.y[i]) / problem.scale[i]);
  }
  return worst;
}

using Visit = std::function<void(double, const State&, bool)>;

// As the program marches it: in laboratory axes while the jet flies, in cylindrical ones once the air has carried it round
// (jet/jet_inertial.cpp). The end is compared in laboratory axes.
Outcome by_march(const Problem& problem, double tolerance, const Visit* visit = nullptr) {
  Outcome out;
  out.y = problem.start;
  solver::MarchOptions options;
  options.relative_tolerance = tolerance;
  bool carried = false;
  State scale = problem.scale;
  for (;;) {
    const bool solid = out.solid;
    std::vector<solver::Event<State>> events(2);
    const auto floor = problem.context->collector_radius_m;
    events[0] = {[carried, floor, &problem](const State& y, double) {
                   return carried ? y[S::kX] - floor : problem.collector(y);
                 },
                 solver::Crossing::rising};
    events[1] = {[carried](const State& y, double) { return carried ? 1.0 : y[S::kX]; }, solver::Crossing::falling};
    if (!solid) events.push_back({[&problem](const State& y, double) { return problem.margin(y); }, solver::Crossing::falling});
    const auto rhs = [&problem, solid, carried](const State& y, State& dydt, double) {
      if (!carried) {
        problem.rates(y, dydt, solid);
        return;
      }
      State at_zero = y;
      at_zero[S::kY] = 0.0;
      problem.rates(at_zero, dydt, solid);
      model::turn_rates(y.data(), dydt.data());
    };
    const auto watch = [&](const State& y, double t) {
      State lab = y;
      if (carried) model::to_cartesian(lab.data());
      if (visit != nullptr) (*visit)(t, lab, solid);
    };
    const auto result = visit != nullptr
                            ? solver::march<S::kSize>(rhs, out.y, scale, out.t, problem.end_time_s, options, events, watch)
                            : solver::march<S::kSize>(rhs, out.y, scale, out.t, problem.end_time_s, options, events);
    out.rhs_calls += result.counters.rhs_calls;
    out.steps += result.counters.accepted + result.counters.rejected;
    out.y = result.state;
    out.t = result.t;
    options.initial_step = result.next_step;
    const bool event = result.status == solver::MarchStatus::event;
    if (event && result.event_index == 1) {
      carried = true;
      scale[S::kY] = 1.0;
      model::to_cylindrical(out.y.data());
      continue;
    }
    if (event && result.event_index == 2) {
      out.solid = true;
      continue;
    }
    out.reached = event;
    if (carried) model::to_cartesian(out.y.data());
    return out;
  }
}

/// CVODE, set up once and started again for every jet, as one would for many jets.
class ByCvode {
 public:
  enum class Method { adams, bdf };
  ByCvode(const Problem& problem, Method method) : problem_(problem) {
#if SUNDIALS_VERSION_MAJOR >= 7
    check(SUNContext_Create(SUN_COMM_NULL, &context_));
#else
    check(SUNContext_Create(nullptr, &context_));
#endif
    y_ = N_VNew_Serial(S::kSize, context_);
    tolerance_ = N_VNew_Serial(S::kSize, context_);
    load();
    memory_ = CVodeCreate(method == Method::adams ? CV_ADAMS : CV_BDF, context_);
    check(CVodeInit(memory_, right_hand_side, 0.0, y_));
    check(CVodeSetUserData(memory_, this));
    set_tolerance(1e-6);
    check(CVodeRootInit(memory_, 2, roots));
    std::array<int, 2> direction{1, -1};
    check(CVodeSetRootDirection(memory_, direction.data()));
    check(CVodeSetMaxNumSteps(memory_, 100000));
    if (method == Method::adams) {
      fixed_point_ = SUNNonlinSol_FixedPoint(y_, 0, context_);
      check(CVodeSetNonlinearSolver(memory_, fixed_point_));
    } else {
      matrix_ = SUNDenseMatrix(S::kSize, S::kSize, context_);
      linear_ = SUNLinSol_Dense(y_, matrix_, context_);
      check(CVodeSetLinearSolver(memory_, linear_, matrix_));
    }
  }
  ~ByCvode() {
    CVodeFree(&memory_);
    if (fixed_point_ != nullptr) SUNNonlinSolFree(fixed_point_);
    if (linear_ != nullptr) SUNLinSolFree(linear_);
    if (matrix_ != nullptr) SUNMatDestroy(matrix_);
    N_VDestroy(tolerance_);
    N_VDestroy(y_);
    SUNContext_Free(&context_);
  }
  ByCvode(const ByCvode&) = delete;
  ByCvode& operator=(const ByCvode&) = delete;

  void set_tolerance(double relative) {
    for (std::size_t i = 0; i < S::kSize; ++i)
      N_VGetArrayPointer(tolerance_)[i] = relative * problem_.scale[i];
    check(CVodeSVtolerances(memory_, relative, tolerance_));
  }

  Outcome solve() {
    Outcome out;
    calls_ = 0;
    solid_ = false;
    load();
    check(CVodeReInit(memory_, 0.0, y_));
    sunrealtype t = 0.0;
    for (;;) {
      const int flag = CVode(memory_, problem_.end_time_s, y_, &t, CV_NORMAL);
      long steps = 0;
      check(CVodeGetNumSteps(memory_, &steps));
      if (flag != CV_ROOT_RETURN) {
        out.steps += steps;
        break;
      }
      std::array<int, 2> which{};
      check(CVodeGetRootInfo(memory_, which.data()));
      out.steps += steps;
      if (which[0] != 0) {
        out.reached = true;
        break;
      }
      solid_ = true;
      check(CVodeReInit(memory_, t, y_));
    }
    out.solid = solid_;
    out.t = t;
    std::copy_n(N_VGetArrayPointer(y_), out.y.size(), out.y.begin());
    out.rhs_calls = calls_;
    return out;
  }

 private:
  static void check(int flag) {
    if (flag < 0) throw std::runtime_error("CVODE refused a call: " + std::to_string(flag));
  }
  void load() {
    std::copy(problem_.start.begin(), problem_.start.end(), N_VGetArrayPointer(y_));
  }
  static State state_of(N_Vector y) {
    State state;
    std::copy_n(N_VGetArrayPointer(y), state.size(), state.begin());
    return state;
  }
  static int right_hand_side(sunrealtype, N_Vector y, N_Vector ydot, void* self) {
    auto& me = *static_cast<ByCvode*>(self);
    ++me.calls_;
    const double* at = N_VGetArrayPointer(y);
    const auto local = model::jet_local(*me.problem_.context, at, at[S::kSolvent], me.solid_);
    model::jet_rates(*me.problem_.context, local, at, false, N_VGetArrayPointer(ydot));
    return 0;
  }
  static int roots(sunrealtype, N_Vector y, sunrealtype* values, void* self) {
    const auto& me = *static_cast<ByCvode*>(self);
    const State state = state_of(y);
    values[0] = me.problem_.collector(state);
    values[1] = me.solid_ ? 1.0 : me.problem_.margin(state);
    return 0;
  }

  const Problem& problem_;
  SUNContext context_{};
  N_Vector y_{}, tolerance_{};
  void* memory_{};
  SUNMatrix matrix_{};
  SUNLinearSolver linear_{};
  SUNNonlinearSolver fixed_point_{};
  long calls_{};
  bool solid_{};
};

json run_json(double tolerance, double error, const Outcome& outcome, double seconds) {
  return {{"tolerance", tolerance},
          {"error", error},
          {"rhs_calls", outcome.rhs_calls},
          {"steps", outcome.steps},
          {"seconds", seconds}};
}

json constants(const model::JetContext& c) {
  const model::Fluid& f = *c.fluid;
  const model::Air& a = *c.air;
  return {{"speed_rad_s", c.speed_rad_s},
          {"polymer_flow_kg_s", c.polymer_flow_kg_s},
          {"exit_speed_m_s", c.exit_speed_m_s},
          {"outer_radius_m", c.outer_radius_m},
          {"collector_radius_m", c.collector_radius_m},
          {"gravity_m_s2", c.gravity_m_s2},
          {"polymer_density", f.polymer_density_kg_m3},
          {"solvent_density", f.solvent_density_kg_m3},
          {"density_factor", f.density_factor},
          {"solvent_ratio_0", f.initial.solvent_ratio},
          {"polymer_glass_K", f.polymer_glass_K},
          {"solvent_glass_K", f.solvent_glass_K},
          {"polymer_expansion", f.polymer_expansion_1_K},
          {"solvent_expansion", f.solvent_expansion_1_K},
          {"solvent_molar_mass", f.solvent_molar_mass_kg_mol},
          {"antoine", {f.antoine_a, f.antoine_b, f.antoine_c}},
          {"latent_heat_25", f.latent_heat_25_J_kg},
          {"critical_temperature", f.critical_temperature_K},
          {"chi", f.chi},
          {"solvent_heat_capacity", f.solvent_heat_capacity},
          {"polymer_heat_capacity", f.polymer_heat_capacity},
          {"vapour_heat_capacity", f.vapour_heat_capacity},
          {"diffusivity_air_25", f.diffusivity_air_25_m2_s},
          {"crystallises", f.crystallises},
          {"melting_point", f.melting_point_K},
          {"heat_of_fusion_J_m3", f.heat_of_fusion_J_m3},
          {"solvent_molar_volume", f.solvent_molar_volume_m3_mol},
          {"air_temperature", a.temperature_K},
          {"air_pressure", a.pressure_Pa},
          {"air_density", a.density_kg_m3},
          {"air_viscosity", a.viscosity_Pa_s},
          {"air_vapour_fraction", a.vapour_fraction},
          {"swirl_speed_rad_s", a.swirl_speed_rad_s},
          {"axial_drag_factor", a.axial_drag_factor},
          {"cross_drag_factor", a.cross_drag_factor},
          {"heat_factor", a.heat_factor},
          {"mass_factor", a.mass_factor}};
}

json side_by_side(const std::string& name) {
  const bench::FirstJet jet(name);
  if (jet.context().air->axial_drag != model::AxialDrag::combined)
    throw std::runtime_error(name + ": another axial drag law");
  const Problem problem(jet.context());
  json out;
  out["case"] = name;
  out["constants"] = constants(jet.context());
  out["start"] = problem.start;
  out["scale"] = problem.scale;
  out["end_time_s"] = problem.end_time_s;

  // Reference by the march; CVODE at its own tight tolerance says how far that can be trusted.
  json states = json::array();
  const auto keep = [&](const State& y, bool solid) {
    State rates{};
    problem.rates(y, rates, solid);
    states.push_back({{"y", y}, {"solid", solid}, {"rates", rates}, {"margin", problem.margin(y)}});
  };
  // Each state of the path, and three away from it, so that every branch of the correlations is met: slow and
  // thick, fast and thin, along with the air; dry, cold and hot; solid and not.
  const Visit visit = [&](double, const State& y, bool solid) {
    keep(y, solid);
    State other = y;
    for (std::size_t i : {S::kVx, S::kVy, S::kVz}) other[i] *= 0.03;  // almost with the air
    other[S::kTemperature] += 25.0;
    keep(other, !solid);
    for (std::size_t i : {S::kVx, S::kVy, S::kVz}) other[i] *= 200.0;
    other[S::kSolvent] *= 0.02;
    other[S::kTemperature] -= 40.0;
    keep(other, solid);
    other[S::kVx] = -0.999 * jet.context().speed_rad_s * y[S::kY];  // almost with the vessel: slow and thick
    other[S::kVy] = 1.001 * jet.context().speed_rad_s * y[S::kX];
    other[S::kVz] = -1e-3;
    keep(other, false);
  };
  const Outcome reference = by_march(problem, 1e-12);
  if (!reference.reached) throw std::runtime_error(name + ": the jet does not reach the collector");
  static_cast<void>(by_march(problem, 1e-4, &visit));
  out["states"] = states;
  out["reference"] = {{"t", reference.t}, {"y", reference.y}, {"solid", reference.solid}};

  json tools;
  std::vector<double> tolerances;
  for (int k = 8; k <= 40; ++k) tolerances.push_back(std::pow(10.0, -0.25 * k));
  for (const double tolerance : tolerances) {
    const Outcome outcome = by_march(problem, tolerance);
    const double seconds = seconds_per_call([&] { static_cast<void>(by_march(problem, tolerance)); });
    tools["whorl"].push_back(run_json(tolerance, error_of(problem, outcome, reference), outcome, seconds));
  }
  for (const auto& [tool, method] :
       {std::pair{"CVODE Adams", ByCvode::Method::adams}, std::pair{"CVODE BDF", ByCvode::Method::bdf}}) {
    ByCvode cvode(problem, method);
    cvode.set_tolerance(1e-12);
    out["reference_check"][tool] = error_of(problem, cvode.solve(), reference);
    for (const double tolerance : tolerances) {
      cvode.set_tolerance(tolerance);
      const Outcome outcome = cvode.solve();
      const double seconds = seconds_per_call([&] { static_cast<void>(cvode.solve()); });
      tools[tool].push_back(run_json(tolerance, error_of(problem, outcome, reference), outcome, seconds));
    }
  }
  out["tools"] = tools;

  const double jet_seconds =
      seconds_per_call([&] { static_cast<void>(jet::solve_inertial_jet(jet.context(), jet.options())); });
  out["whole_jet"] = {{"seconds", jet_seconds}, {"tolerance", jet.options().relative_tolerance}};
  State rates{};
  State at = problem.start;
  out["rhs_seconds"] = seconds_per_call([&] {
                         for (int i = 0; i < 64; ++i) {
                           problem.rates(at, rates, false);
                           at[S::kArc] +=
                               rates[S::kArc];  // not used by the rates; keeps the calls from being merged
                         }
                       }) /
                       64.0;
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) {
    std::cerr << "usage: side_by_side_cpp CASE-NAME ...   (prints JSON)\n";
    return 2;
  }
  try {
    json all = json::array();
    for (int i = 1; i < argc; ++i) all.push_back(side_by_side(argv[i]));
    std::cout << all.dump() << '\n';
  } catch (const std::exception& error) {
    std::cerr << "side_by_side_cpp: " << error.what() << '\n';
    return 1;
  }
  return 0;
}
