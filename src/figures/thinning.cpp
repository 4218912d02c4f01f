#include "figures/thinning.hpp"

#include <cmath>
#include <stdexcept>
#include <utility>

namespace whorl::figures {

std::vector<std::size_t> thinned(const std::vector<std::vector<double>>& channels,
                                 const std::vector<double>& tolerances, const std::vector<double>& along) {
  const std::size_t n = along.size();
  if (channels.size() != tolerances.size()) throw std::invalid_argument("one tolerance per channel");
  for (const auto& channel : channels)
    if (channel.size() != n) throw std::invalid_argument("channels differ in length");
  if (n == 0) return {};
  std::vector<bool> keep(n, false);
  keep.front() = keep.back() = true;
  std::vector<std::pair<std::size_t, std::size_t>> open{{0, n - 1}};
  while (!open.empty()) {
    const auto [a, b] = open.back();
    open.pop_back();
    double worst = 1.0;
    std::size_t at = 0;
    for (std::size_t i = a + 1; i < b; ++i) {
      const double share = along[b] > along[a] ? (along[i] - along[a]) / (along[b] - along[a]) : 0.0;
      for (std::size_t c = 0; c < channels.size(); ++c) {
        const double line = channels[c][a] + share * (channels[c][b] - channels[c][a]);
        const double off = std::abs(channels[c][i] - line) / tolerances[c];
        if (off > worst) {
          worst = off;
          at = i;
        }
      }
    }
    if (at == 0) continue;
    keep[at] = true;
    open.emplace_back(a, at);
    open.emplace_back(at, b);
  }
  std::vector<std::size_t> out;
  for (std::size_t i = 0; i < n; ++i)
    if (keep[i]) out.push_back(i);
  return out;
}

}  // namespace whorl::figures
