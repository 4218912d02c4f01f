#include "validation/thread_law.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>

#include "whorl/engine/outcomes.hpp"
#include "whorl/model/constants.hpp"

namespace whorl::validation {
namespace {

constexpr double kConstant_m = 0.37e-6;  // one size for everything: design note of the evidence
constexpr double kZ95 = 1.6448536269514722;

// Rows of each study, in order of first appearance.
std::vector<std::vector<std::size_t>> by_study(const std::vector<Point>& points) {
  std::vector<std::string> names;
  std::vector<std::vector<std::size_t>> out;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const auto at = static_cast<std::size_t>(std::find(names.begin(), names.end(), points[i].study) - names.begin());
    if (at == names.size()) {
      names.push_back(points[i].study);
      out.emplace_back();
    }
    out[at].push_back(i);
  }
  return out;
}

double setting(Knob knob, const Point& p) {
  switch (knob) {
    case Knob::concentration: return p.concentration;
    case Knob::overpressure: return p.overpressure_Pa;
    case Knob::feed: return p.feed_m3_s;
    case Knob::distance: return p.distance_m;
    case Knob::bore: return p.bore_m;
  }
  return 0.0;
}

// ln of settings and diameters less their means over each liquid.
struct Centred {
  std::vector<Knob> knobs;
  Eigen::MatrixXd x;
  Eigen::VectorXd published, model;
  int levels{};
};

// Every knob is stated in all rows, varies inside a liquid, and is not a combination of those before it.
Centred centred(Law law, const std::vector<Point>& points, const std::vector<std::size_t>& rows) {
  std::map<std::string, std::vector<Eigen::Index>> liquids;
  for (std::size_t i = 0; i < rows.size(); ++i) liquids[points[rows[i]].liquid].push_back(static_cast<Eigen::Index>(i));
  const auto centre = [&](Eigen::VectorXd v) {
    for (const auto& [name, of] : liquids) {
      double mean = 0.0;
      for (const Eigen::Index i : of) mean += v[i] / static_cast<double>(of.size());
      for (const Eigen::Index i : of) v[i] -= mean;
    }
    return v;
  };
  const auto n = static_cast<Eigen::Index>(rows.size());
  Centred out;
  out.levels = static_cast<int>(liquids.size());
  out.x.resize(n, 0);
  for (const Knob knob : kKnobs) {
    Eigen::VectorXd v(n);
    bool stated = true;
    for (Eigen::Index i = 0; i < n; ++i) {
      const double value = setting(knob, points[rows[static_cast<std::size_t>(i)]]);
      stated = stated && value > 0.0;
      v[i] = stated ? std::log(value) : 0.0;
    }
    if (!stated) continue;
    v = centre(v);
    if (v.norm() < 1e-9) continue;
    Eigen::MatrixXd more(n, out.x.cols() + 1);
    more << out.x, v;
    Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(more);
    qr.setThreshold(1e-6);
    if (qr.rank() < more.cols()) continue;
    out.x = more;
    out.knobs.push_back(knob);
  }
  Eigen::VectorXd published(n);
  Eigen::VectorXd modelled(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Point& p = points[rows[static_cast<std::size_t>(i)]];
    published[i] = std::log(p.diameter_m);
    modelled[i] = std::log(diameter_m(law, p));
  }
  out.published = centre(published);
  out.model = centre(modelled);
  return out;
}

}  // namespace

const char* name_of(Law law) {
  switch (law) {
    case Law::length: return "length 10 µm (default)";
    case Law::weber: return "Weber 12";
    case Law::cascade: return "cascade";
    case Law::constant: return "one size, 0.37 µm";
    case Law::one_line: return "one line at gas speed";
  }
  return "";
}

const char* name_of(Knob knob) {
  switch (knob) {
    case Knob::concentration: return "concentration";
    case Knob::overpressure: return "overpressure";
    case Knob::feed: return "feed";
    case Knob::distance: return "distance";
    case Knob::bore: return "bore";
  }
  return "";
}

double diameter_m(Law law, const Point& point) {
  switch (law) {
    case Law::length: return model::torn_thread_m(model::ThreadLaw::length, point.flow);
    case Law::weber: return model::torn_thread_m(model::ThreadLaw::weber, point.flow);
    case Law::cascade: return model::torn_thread_m(model::ThreadLaw::cascade, point.flow);
    case Law::constant: return kConstant_m;
    case Law::one_line:
      return std::sqrt(4.0 * point.feed_m3_s * point.flow.solids_fraction / (model::kPi * point.flow.gas_speed_m_s));
  }
  return 0.0;
}

namespace {

// Mean over a study of ln(published/law), and of its square, for every study that the law has an answer for.
struct Study {
  std::vector<double> off;
  double mean{};
};
std::vector<Study> offsets(Law law, const std::vector<Point>& points) {
  std::vector<Study> out;
  for (const auto& rows : by_study(points)) {
    Study study;
    for (const std::size_t i : rows) {
      const double d = diameter_m(law, points[i]);
      if (d > 0.0) study.off.push_back(std::log(points[i].diameter_m / d));
    }
    if (study.off.empty()) continue;
    for (const double off : study.off) study.mean += off / static_cast<double>(study.off.size());
    out.push_back(std::move(study));
  }
  return out;
}

}  // namespace

Fit fit_factor(Law law, const std::vector<Point>& points) {
  const auto studies = offsets(law, points);
  const auto n = static_cast<double>(studies.size());
  Fit out;
  for (const Study& s : studies) out.log_factor += s.mean / n;
  double square = 0.0;
  for (const Study& s : studies) square += (s.mean - out.log_factor) * (s.mean - out.log_factor);
  out.error = std::sqrt(square / (n - 1.0) / n);
  return out;
}

SizeScore size_score(Law law, const std::vector<Point>& points) {
  const auto studies = offsets(law, points);
  const auto n = static_cast<double>(studies.size());
  SizeScore out;
  out.studies = static_cast<int>(studies.size());
  double mean = 0.0;
  double squares = 0.0;
  for (const Study& s : studies) {
    out.rows += static_cast<int>(s.off.size());
    mean += s.mean / n;
    out.within_2 += std::abs(s.mean) <= std::log(2.0) ? 1.0 / n : 0.0;
    out.within_2_3 += std::abs(s.mean) <= std::log(2.3) ? 1.0 / n : 0.0;
  }
  out.ratio = std::exp(-mean);
  for (const Study& s : studies) {
    const double others = (mean * n - s.mean) / (n - 1.0);
    double spread = 0.0;  // of the others, about their own mean
    for (const Study& t : studies) {
      if (&t == &s) continue;
      for (const double off : t.off)
        spread += (off - others) * (off - others) / static_cast<double>(t.off.size()) / (n - 1.0);
    }
    const double half = kZ95 * std::sqrt(spread);
    for (const double off : s.off) {
      const double weight = 1.0 / static_cast<double>(s.off.size()) / n;
      const double left = off - others;
      squares += weight * left * left;
      out.holds_own += std::abs(left) <= half ? weight : 0.0;
      out.holds_band += std::abs(left) <= std::log(engine::kThreadBand) ? weight : 0.0;
    }
  }
  out.rms_log = std::sqrt(squares);
  return out;
}

std::vector<Exponent> exponents(Law law, const std::vector<Point>& points) {
  std::vector<Exponent> out;
  for (const auto& rows : by_study(points)) {
    const Centred c = centred(law, points, rows);
    const auto n = static_cast<int>(rows.size());
    const int free = n - c.levels - static_cast<int>(c.knobs.size());
    if (c.knobs.empty() || free < 1) continue;
    const Eigen::MatrixXd normal = c.x.transpose() * c.x;
    const Eigen::MatrixXd inverse = normal.inverse();
    const Eigen::VectorXd value = inverse * (c.x.transpose() * c.published);
    const Eigen::VectorXd modelled = inverse * (c.x.transpose() * c.model);
    const double variance = (c.published - c.x * value).squaredNorm() / free;
    for (std::size_t k = 0; k < c.knobs.size(); ++k) {
      const auto at = static_cast<Eigen::Index>(k);
      out.push_back({points[rows.front()].study, points[rows.front()].label, c.knobs[k], n, value[at],
                     std::sqrt(variance * inverse(at, at)), modelled[at]});
    }
  }
  return out;
}

Pooled pooled(Knob knob, const std::vector<Exponent>& all) {
  Pooled out;
  double weights = 0.0;
  double squares = 0.0;
  double fixed = 0.0;
  std::vector<const Exponent*> of;
  for (const Exponent& e : all)
    if (e.knob == knob && e.error > 0.0) of.push_back(&e);
  out.studies = static_cast<int>(of.size());
  if (of.empty()) return out;
  for (const Exponent* e : of) {
    const double w = 1.0 / (e->error * e->error);
    weights += w;
    squares += w * w;
    fixed += w * e->value;
  }
  fixed /= weights;
  double q = 0.0;
  for (const Exponent* e : of) q += (e->value - fixed) * (e->value - fixed) / (e->error * e->error);
  const double room = weights - squares / weights;
  const double between = room > 0.0 ? std::max(0.0, (q - (static_cast<double>(of.size()) - 1.0)) / room) : 0.0;
  double sum = 0.0;
  for (const Exponent* e : of) {
    const double w = 1.0 / (e->error * e->error + between);
    sum += w;
    out.value += w * e->value;
    out.model += w * e->model;
  }
  out.value /= sum;
  out.model /= sum;
  out.error = 1.0 / std::sqrt(sum);
  out.between = std::sqrt(between);
  return out;
}

Pooled over_rows(Law law, Knob knob, const std::vector<Point>& points) {
  // Knobs that a study did not state or vary are zero there.
  constexpr auto kCount = static_cast<Eigen::Index>(std::size(kKnobs));
  std::vector<Centred> studies;
  Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(kCount, kCount);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(kCount);
  Eigen::VectorXd right_model = Eigen::VectorXd::Zero(kCount);
  std::vector<Eigen::MatrixXd> spread;
  Pooled out;
  for (const auto& rows : by_study(points)) {
    Centred c = centred(law, points, rows);
    Eigen::MatrixXd x = Eigen::MatrixXd::Zero(c.x.rows(), kCount);
    for (std::size_t k = 0; k < c.knobs.size(); ++k) {
      x.col(static_cast<Eigen::Index>(c.knobs[k])) = c.x.col(static_cast<Eigen::Index>(k));
      out.studies += c.knobs[k] == knob ? 1 : 0;
    }
    if (c.knobs.empty()) continue;
    normal += x.transpose() * x;
    right += x.transpose() * c.published;
    right_model += x.transpose() * c.model;
    spread.push_back(x);
    studies.push_back(std::move(c));
  }
  Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(normal);
  const Eigen::MatrixXd inverse = qr.inverse();
  const Eigen::VectorXd value = inverse * right;
  Eigen::MatrixXd meat = Eigen::MatrixXd::Zero(kCount, kCount);
  for (std::size_t s = 0; s < studies.size(); ++s) {
    const Eigen::VectorXd pull = spread[s].transpose() * (studies[s].published - spread[s] * value);
    meat += pull * pull.transpose();
  }
  const Eigen::MatrixXd covariance = inverse * meat * inverse;
  const auto at = static_cast<Eigen::Index>(knob);
  out.value = value[at];
  out.model = (inverse * right_model)[at];
  out.error = std::sqrt(std::max(covariance(at, at), 0.0));
  return out;
}

}  // namespace whorl::validation
