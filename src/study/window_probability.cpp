#include "whorl/study/window.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "study/window_point.hpp"

namespace whorl::study {

namespace {

// Own choices: every point of a coarse grid, of the fine one only those in cells over which the probability changes by
// more than kChange.
constexpr int kBase = 8;
constexpr int kCells = 16;
constexpr int kStep = kCells / kBase;
constexpr double kChange = 0.15;
constexpr std::size_t kBatch = 2048;  // estimates handed over at once
constexpr std::array<engine::KindSet, 2> kSets{engine::KindSet{true, true, true}, engine::KindSet{true, true, false}};

class ProbabilityGrid {
 public:
  ProbabilityGrid(const model::CaseInput& base, const std::array<WindowAxis, 2>& axes, const WindowTarget& target,
                  const SamplerAt& samples, const engine::BatchRunner& runner)
      : base_(base), axes_(axes), target_(target), samples_(samples), runner_(runner) {
    map_.cells = kCells;
    map_.nodes.resize(static_cast<std::size_t>((kCells + 1) * (kCells + 1)));
    for (int j = 0; j <= kCells; ++j)
      for (int i = 0; i <= kCells; ++i) {
        node(i, j).at = {static_cast<double>(i) / kCells, static_cast<double>(j) / kCells};
        node(i, j).interpolated = true;
      }
  }

  ProbabilityMap run() {
    std::vector<std::pair<int, int>> wanted;
    for (int j = 0; j <= kCells; j += kStep)
      for (int i = 0; i <= kCells; i += kStep) wanted.emplace_back(i, j);
    run_nodes(wanted);
    wanted.clear();
    for (int j = 0; j < kCells; j += kStep)
      for (int i = 0; i < kCells; i += kStep) {
        const auto [low, high] = std::minmax({node(i, j).all.value, node(i + kStep, j).all.value,
                                              node(i, j + kStep).all.value, node(i + kStep, j + kStep).all.value});
        if (high - low <= kChange) continue;
        for (int a = 0; a <= kStep; ++a)
          for (int b = 0; b <= kStep; ++b) wanted.emplace_back(i + a, j + b);
      }
    run_nodes(wanted);
    for (int j = 0; j <= kCells; ++j)
      for (int i = 0; i <= kCells; ++i)
        if (node(i, j).interpolated) interpolate(i, j);
    return std::move(map_);
  }

 private:
  struct Slot {
    std::size_t node, sample;
    int set;
  };
  using Marks = std::map<std::size_t, std::array<std::vector<bool>, 2>>;

  ProbabilityNode& node(int i, int j) { return map_.nodes[static_cast<std::size_t>(j * (kCells + 1) + i)]; }

  // Runs what has been gathered, and marks the samples that meet the target.
  void flush(Marks& marks) {
    const auto estimates = runner_(batch_);
    for (std::size_t k = 0; k < slots_.size(); ++k) {
      const WindowProbe probe = judge(estimates[k], target_);
      if (!probe.converged) ++map_.not_converged;
      marks[slots_[k].node][static_cast<std::size_t>(slots_[k].set)][slots_[k].sample] = probe.met();
    }
    map_.runs += batch_.size();
    batch_.clear();
    slots_.clear();
  }

  // The nodes that are not known yet.
  void run_nodes(const std::vector<std::pair<int, int>>& wanted) {
    Marks marks;
    std::map<std::size_t, std::size_t> replicates;
    for (const auto& [i, j] : wanted) {
      ProbabilityNode& at = node(i, j);
      if (!at.interpolated) continue;
      at.interpolated = false;
      const auto number = static_cast<std::size_t>(&at - map_.nodes.data());
      const model::CaseInput input = at_point(base_, axes_, at.at);
      const engine::Sampler sampler = samples_(input);
      replicates[number] = sampler.plan().replicates;
      for (int set = 0; set < 2; ++set) {
        marks[number][static_cast<std::size_t>(set)].assign(sampler.size(), false);
        for (std::size_t s = 0; s < sampler.size(); ++s) {
          batch_.push_back(sampler.sample(input, s, kSets[static_cast<std::size_t>(set)]));
          slots_.push_back({number, s, set});
          if (batch_.size() >= kBatch) flush(marks);
        }
      }
    }
    if (!batch_.empty()) flush(marks);
    for (const auto& [number, mark] : marks) {
      ProbabilityNode& at = map_.nodes[number];
      at.all = engine::share_of(mark[0], replicates[number]);
      at.known = engine::share_of(mark[1], replicates[number]);
    }
  }

  // A node between the corners of its base cell.
  void interpolate(int i, int j) {
    ProbabilityNode& at = node(i, j);
    const int i0 = std::min(i / kStep * kStep, kCells - kStep);
    const int j0 = std::min(j / kStep * kStep, kCells - kStep);
    const double u = static_cast<double>(i - i0) / kStep;
    const double v = static_cast<double>(j - j0) / kStep;
    const std::array<const ProbabilityNode*, 4> corner{&node(i0, j0), &node(i0 + kStep, j0), &node(i0, j0 + kStep),
                                                       &node(i0 + kStep, j0 + kStep)};
    const std::array<double, 4> weight{(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v};
    at.all.total = corner[0]->all.total;
    at.known.total = corner[0]->known.total;
    for (std::size_t k = 0; k < 4; ++k) {
      add_part(at.all, weight[k], corner[k]->all);
      add_part(at.known, weight[k], corner[k]->known);
    }
  }

  static void add_part(engine::Share& sum, double weight, const engine::Share& part) {
    sum.value += weight * part.value;
    sum.error += weight * part.error;
    sum.low += weight * part.low;
    sum.high += weight * part.high;
  }

  const model::CaseInput& base_;
  const std::array<WindowAxis, 2>& axes_;
  const WindowTarget& target_;
  const SamplerAt& samples_;
  const engine::BatchRunner& runner_;
  ProbabilityMap map_;
  std::vector<model::CaseInput> batch_;
  std::vector<Slot> slots_;
};

}  // namespace

ProbabilityMap map_probability(const model::CaseInput& base, const std::array<WindowAxis, 2>& axes,
                               const WindowTarget& target, const SamplerAt& samples,
                               const engine::BatchRunner& runner) {
  return ProbabilityGrid(base, axes, target, samples, runner).run();
}

std::vector<std::vector<UnitPoint>> probability_contour(const ProbabilityMap& map, double level) {
  const int n = map.cells;
  const auto at = [&](int i, int j) -> const ProbabilityNode& {
    return map.nodes[static_cast<std::size_t>(j * (n + 1) + i)];
  };
  const auto above = [&](int i, int j) { return at(i, j).all.value >= level; };
  using Key = std::array<int, 3>;  // node, direction
  const auto point = [&](const Key& key) {
    const ProbabilityNode& a = at(key[0], key[1]);
    const ProbabilityNode& b = at(key[0] + (key[2] == 0 ? 1 : 0), key[1] + (key[2] == 1 ? 1 : 0));
    const double t = (level - a.all.value) / (b.all.value - a.all.value);
    return UnitPoint{part_way(a.at.x, b.at.x, t), part_way(a.at.y, b.at.y, t)};
  };
  std::map<Key, Key> next;
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      const std::array<std::pair<int, int>, 4> c{{{i, j}, {i + 1, j}, {i + 1, j + 1}, {i, j + 1}}};
      std::vector<Key> leaving, entering;
      for (std::size_t k = 0; k < 4; ++k) {
        const auto [a, b] = c[k];
        const auto [a2, b2] = c[(k + 1) % 4];
        const Key key{std::min(a, a2), std::min(b, b2), b == b2 ? 0 : 1};
        if (above(a, b) && !above(a2, b2)) leaving.push_back(key);
        if (!above(a, b) && above(a2, b2)) entering.push_back(key);
      }
      if (leaving.empty()) continue;
      if (leaving.size() == 1) {
        next[leaving[0]] = entering[0];
        continue;
      }
      const double middle =
          0.25 * (at(i, j).all.value + at(i + 1, j).all.value + at(i, j + 1).all.value + at(i + 1, j + 1).all.value);
      const std::size_t same = above(i, j) == (middle >= level) ? 0 : 1;
      next[leaving[0]] = entering[same];
      next[leaving[1]] = entering[1 - same];
    }
  std::vector<std::vector<UnitPoint>> lines;
  // open lines first: those that begin where none ends
  std::map<Key, bool> ends;
  for (const auto& [from, to] : next) ends[to] = true;
  const auto follow = [&](Key from) {
    std::vector<UnitPoint> line{point(from)};
    for (auto found = next.find(from); found != next.end(); found = next.find(from)) {
      from = found->second;
      next.erase(found);
      line.push_back(point(from));
    }
    lines.push_back(std::move(line));
  };
  std::vector<Key> starts;
  for (const auto& [from, to] : next)
    if (ends.find(from) == ends.end()) starts.push_back(from);
  for (const Key& start : starts) follow(start);
  while (!next.empty()) follow(next.begin()->first);
  return lines;
}

}  // namespace whorl::study
