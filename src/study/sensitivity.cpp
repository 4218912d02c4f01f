#include "whorl/study/sensitivity.hpp"

#include <algorithm>
#include <cmath>

#include "model/normal.hpp"

namespace whorl::study {
namespace {

// Sums over the rows of one replicate from which every index follows; they add up over replicates.
struct Sums {
  double rows{};
  double f{}, f2{};        // over A and B
  double swing{};          // |f_A - f_B|
  struct PerInput {
    double first{}, total{}, swing{};
  };
  std::vector<PerInput> inputs;
};

struct Point {
  double variance{};
  std::vector<double> first, total, spread;
};

Point indices_of(const Sums& sums) {
  Point out;
  const double mean = sums.f / (2.0 * sums.rows);
  out.variance = sums.f2 / (2.0 * sums.rows) - mean * mean;
  for (const auto& input : sums.inputs) {
    out.first.push_back(input.first / sums.rows / out.variance);
    out.total.push_back(0.5 * input.total / sums.rows / out.variance);
    out.spread.push_back(sums.swing > 0.0 ? input.swing / sums.swing : 1.0);
  }
  return out;
}

Sums sum_of(const std::vector<Sums>& replicates, std::size_t without) {
  Sums all;
  all.inputs.resize(replicates.front().inputs.size());
  for (std::size_t r = 0; r < replicates.size(); ++r) {
    if (r == without) continue;
    const Sums& one = replicates[r];
    all.rows += one.rows;
    all.f += one.f;
    all.f2 += one.f2;
    all.swing += one.swing;
    for (std::size_t i = 0; i < all.inputs.size(); ++i) {
      all.inputs[i].first += one.inputs[i].first;
      all.inputs[i].total += one.inputs[i].total;
      all.inputs[i].swing += one.inputs[i].swing;
    }
  }
  return all;
}

// 95 % half width from the estimates that leave one replicate out.
double half_width(const std::vector<double>& without) {
  const double freedom = static_cast<double>(without.size()) - 1.0;
  return model::student_point(freedom, 0.975) * engine::jackknife_error(without);
}

using Rows = std::vector<std::vector<std::optional<double>>>;

Indices indices(const Rows& values, std::size_t result, std::size_t dimension, const engine::SamplePlan& plan) {
  const std::size_t per_row = dimension + 2;
  Indices out;
  out.rows = plan.size();
  const auto whole = [&](std::size_t row) {
    for (std::size_t k = 0; k < per_row; ++k)
      if (!values[row * per_row + k][result]) return false;
    return true;
  };
  std::vector<bool> used(plan.size());
  double sum = 0.0;
  for (std::size_t row = 0; row < plan.size(); ++row) {
    used[row] = whole(row);
    if (!used[row]) continue;
    ++out.rows_used;
    sum += *values[row * per_row][result] + *values[row * per_row + 1][result];
  }
  if (2 * out.rows_used < out.rows) {
    out.reason = "fewer than half of the samples have this result";
    return out;
  }
  out.mean = sum / (2.0 * static_cast<double>(out.rows_used));
  // Deviations from the mean: the estimator of the first order is then less noisy, and nothing cancels.
  std::vector<Sums> replicates(plan.replicates);
  for (std::size_t r = 0; r < plan.replicates; ++r) {
    Sums& s = replicates[r];
    s.inputs.resize(dimension);
    for (std::size_t j = 0; j < plan.points; ++j) {
      const std::size_t row = r * plan.points + j;
      if (!used[row]) continue;
      const auto at = [&](std::size_t k) { return *values[row * per_row + k][result] - out.mean; };
      const double a = at(0);
      const double b = at(1);
      s.rows += 1.0;
      s.f += a + b;
      s.f2 += a * a + b * b;
      s.swing += std::abs(a - b);
      for (std::size_t i = 0; i < dimension; ++i) {
        const double ab = at(2 + i);
        s.inputs[i].first += b * (ab - a);
        s.inputs[i].total += (a - ab) * (a - ab);
        s.inputs[i].swing += std::abs(b - ab);
      }
    }
    if (s.rows < 2.0) {
      out.reason = "a replicate has fewer than two samples with this result";
      return out;
    }
  }
  const Point all = indices_of(sum_of(replicates, replicates.size()));
  out.variance = all.variance;
  if (!(all.variance > 1e-24 * (out.mean * out.mean + 1e-300))) {
    out.reason = "does not vary";
    return out;
  }
  std::vector<Point> without;
  for (std::size_t r = 0; r < replicates.size(); ++r) {
    without.push_back(indices_of(sum_of(replicates, r)));
    if (!(without.back().variance > 0.0)) {
      out.reason = "varies in one replicate only";
      return out;
    }
  }
  const auto index = [&](std::vector<double> Point::* member, std::size_t i) {
    std::vector<double> left;
    for (const Point& point : without) left.push_back((point.*member)[i]);
    return Index{(all.*member)[i], half_width(left)};
  };
  for (std::size_t i = 0; i < dimension; ++i)
    out.inputs.push_back({index(&Point::first, i), index(&Point::total, i), index(&Point::spread, i)});
  out.made = true;
  return out;
}

}  // namespace

std::vector<Indices> sobol_indices(std::size_t dimension, std::size_t results, const engine::SamplePlan& plan,
                                   const UnitModel& model) {
  std::vector<engine::UncertainInput> axes(2 * dimension);
  const engine::Sampler sampler(std::move(axes), plan);
  Rows values;
  for (std::size_t r = 0; r < plan.replicates; ++r) {  // a batch per replicate: bounded memory
    std::vector<std::vector<double>> points;
    for (std::size_t j = 0; j < plan.points; ++j) {
      const std::size_t row = r * plan.points + j;
      std::vector<double> a(dimension), b(dimension);
      for (std::size_t i = 0; i < dimension; ++i) {
        a[i] = sampler.unit(row, i);
        b[i] = sampler.unit(row, dimension + i);
      }
      points.push_back(a);
      points.push_back(b);
      for (std::size_t i = 0; i < dimension; ++i) {
        points.push_back(a);
        points.back()[i] = b[i];
      }
    }
    auto some = model(points);
    std::move(some.begin(), some.end(), std::back_inserter(values));
  }
  std::vector<Indices> out;
  for (std::size_t k = 0; k < results; ++k) out.push_back(indices(values, k, dimension, plan));
  return out;
}

CaseSensitivity case_sensitivity(const model::CaseInput& base, const std::vector<engine::UncertainInput>& inputs,
                                 const engine::SamplePlan& plan, std::span<const engine::ResultFunction> results,
                                 const engine::BatchRunner& runner) {
  CaseSensitivity out;
  out.inputs = inputs;
  out.plan = plan;
  std::vector<std::vector<std::optional<double>>> of_base(results.size());
  const std::size_t per_row = inputs.size() + 2;
  const UnitModel model = [&](const std::vector<std::vector<double>>& points) {
    std::vector<model::CaseInput> cases;
    for (const auto& point : points) {
      cases.push_back(base);
      for (std::size_t i = 0; i < inputs.size(); ++i)
        inputs[i].apply(cases.back(), engine::quantile(inputs[i].spread, point[i]));
    }
    const auto estimates = runner(cases);
    std::vector<std::vector<std::optional<double>>> values;
    for (std::size_t n = 0; n < estimates.size(); ++n) {
      const auto& e = estimates[n];
      ++out.runs;
      if (e.status != model::Status::done) {
        ++out.not_converged;
        ++out.reasons[e.reason.substr(0, 120)];
      }
      values.emplace_back();
      for (std::size_t k = 0; k < results.size(); ++k) {
        values.back().push_back(e.status == model::Status::done ? results[k].get(e) : std::nullopt);
        if (n % per_row < 2) of_base[k].push_back(values.back().back());
      }
    }
    return values;
  };
  out.results = sobol_indices(inputs.size(), results.size(), plan, model);
  for (const auto& values : of_base) out.bands.push_back(engine::band_of(values, plan.replicates));
  return out;
}

NarrowedBand narrowed_band(const model::CaseInput& base, const std::vector<engine::UncertainInput>& inputs,
                           std::size_t which, const engine::SamplePlan& plan, const engine::ResultFunction& result,
                           const engine::BatchRunner& runner) {
  NarrowedBand out;
  const engine::Sampler sampler(inputs, plan);
  const auto width_of = [&](std::vector<double>& values) {
    std::sort(values.begin(), values.end());
    return std::log(engine::sample_quantile(values, 0.95) / engine::sample_quantile(values, 0.05));
  };
  const auto run = [&](std::size_t first, std::size_t count, std::optional<double> held, std::vector<double>& values) {
    std::vector<model::CaseInput> cases;
    for (std::size_t n = 0; n < count; ++n) {
      cases.push_back(sampler.sample(base, first + n));
      if (held) inputs[which].apply(cases.back(), *held);
    }
    for (const auto& e : runner(cases)) {
      ++out.runs;
      const auto value = e.status == model::Status::done ? result.get(e) : std::nullopt;
      if (value && *value > 0.0) {
        values.push_back(*value);
      } else {
        ++out.without_result;
      }
    }
  };
  std::vector<double> all;
  std::vector<double> widths;
  for (std::size_t r = 0; r < plan.replicates; ++r) {
    run(r * plan.points, plan.points, std::nullopt, all);
    const double share = (static_cast<double>(r) + 0.5) / static_cast<double>(plan.replicates);
    std::vector<double> values;
    run(r * plan.points, plan.points, engine::quantile(inputs[which].spread, share), values);
    if (2 * values.size() < plan.points || values.size() < 8) return out;
    widths.push_back(width_of(values));
  }
  if (2 * all.size() < plan.size()) return out;
  out.before = width_of(all);
  const auto n = static_cast<double>(widths.size());
  for (const double w : widths) out.after += w / n;
  double sum = 0.0;
  for (const double w : widths) sum += (w - out.after) * (w - out.after);
  out.after_error = std::sqrt(sum / (n * (n - 1.0)));
  out.made = true;
  return out;
}

}  // namespace whorl::study
