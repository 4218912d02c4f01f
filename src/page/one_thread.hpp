// Stands in for oneTBB where there is one thread only (WebAssembly in a worker of the page): the calls that src/run and
// src/app make, carried out one after the other. Results do not depend on the number of threads, so nothing changes but
// the time; the page runs several workers instead. Its CMakeLists.txt lays it down under the names of oneTBB's headers.
#pragma once
#include <cstddef>
#include <tuple>
#include <utility>

namespace tbb {

template <typename Value>
class blocked_range {
 public:
  blocked_range(Value begin, Value end, std::size_t = 1) : begin_(begin), end_(end) {}
  [[nodiscard]] Value begin() const { return begin_; }
  [[nodiscard]] Value end() const { return end_; }

 private:
  Value begin_, end_;
};

struct simple_partitioner {};

template <typename Range, typename Body>
void parallel_for(const Range& range, const Body& body, const simple_partitioner& = {}) {
  body(range);
}

struct global_control {
  enum parameter { max_allowed_parallelism };
  global_control(parameter, std::size_t) {}
};

struct task_arena {
  explicit task_arena(int) {}
  template <typename Work>
  void execute(const Work& work) {
    work();
  }
};

namespace info {
inline int default_concurrency() { return 1; }
}  // namespace info

class flow_control {
 public:
  void stop() { stopped_ = true; }
  [[nodiscard]] bool stopped() const { return stopped_; }

 private:
  bool stopped_{};
};

enum class filter_mode { parallel, serial_in_order };

template <typename In, typename Out, typename Body>
struct filter {
  Body body;
};

template <typename In, typename Out, typename Body>
filter<In, Out, Body> make_filter(filter_mode, const Body& body) {
  return {body};
}

/// Filters in a row: the first gives items until it stops, the others take what the one before them made.
template <typename First, typename... Rest>
struct pipeline {
  First first;
  std::tuple<Rest...> rest;
};

template <typename In, typename Middle, typename Out, typename First, typename Second>
auto operator&(const filter<In, Middle, First>& first, const filter<Middle, Out, Second>& second) {
  return pipeline<filter<In, Middle, First>, filter<Middle, Out, Second>>{first, {second}};
}
template <typename First, typename... Rest, typename In, typename Out, typename Body>
auto operator&(const pipeline<First, Rest...>& before, const filter<In, Out, Body>& next) {
  return pipeline<First, Rest..., filter<In, Out, Body>>{before.first,
                                                         std::tuple_cat(before.rest, std::make_tuple(next))};
}

template <typename First, typename Middle, typename Last>
void parallel_pipeline(std::size_t, const pipeline<First, Middle, Last>& line) {
  while (true) {
    flow_control control;
    const auto item = line.first.body(control);
    if (control.stopped()) return;
    std::get<1>(line.rest).body(std::get<0>(line.rest).body(item));
  }
}

}  // namespace tbb

inline const char* TBB_runtime_version() { return "replaced by one thread"; }
