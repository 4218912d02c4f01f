// The sweep command around the stand-in model, as a program of its own, so that tests can interrupt and kill it.
#include <sys/resource.h>

#include <cstring>
#include <iostream>
#include <string>

#include "app/sweep_model.hpp"

int main(int argc, char** argv) {
  whorl::app::SweepArguments arguments;
  sweep_test::Model model;
  bool show_memory = false;
  for (int i = 1; i < argc; ++i) {
    const std::string option = argv[i];
    const auto value = [&] { return std::string(++i < argc ? argv[i] : ""); };
    if (option == "--vary") arguments.spec.vary.push_back(value());
    else if (option == "--design") arguments.spec.design = value();
    else if (option == "--points") arguments.spec.points = std::stoull(value());
    else if (option == "-o") arguments.output = value();
    else if (option == "--threads") arguments.threads = std::stoi(value());
    else if (option == "--resume") arguments.resume = true;
    else if (option == "--json") arguments.json = true;
    else if (option == "--delay-us") model.delay = std::chrono::microseconds(std::stol(value()));
    else if (option == "--memory") show_memory = true;
  }
  try {
    const int code = whorl::app::sweep(arguments, sweep_test::make_case(), "0.test", model, std::cout, std::cerr);
    if (show_memory) {
      rusage usage{};
      getrusage(RUSAGE_SELF, &usage);
      std::cout << usage.ru_maxrss << '\n';
    }
    return code;
  } catch (const whorl::InputError& error) {
    std::cerr << error.what() << '\n';
    return 2;
  } catch (const std::exception& error) {
    std::cerr << error.what() << '\n';
    return 1;
  }
}
