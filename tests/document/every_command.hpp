// One short call of every command that the program has, for tests of the forms in which it answers.
#pragma once
#include <string>
#include <vector>

#include "app/process.hpp"

namespace every_command {

struct Call {
  std::string command;
  std::vector<std::string> rest;
  std::vector<std::string> before{};  ///< a call that makes what this one reads
};

/// `folder`: for what they write. Quick: no tension, few points.
inline std::vector<Call> calls(const std::string& source, const std::string& folder) {
  const std::string pvp = source + "/cases/pvp-ethanol-measured.json";
  const std::string pcl = source + "/cases/pcl-chloroform.json";
  const std::vector<std::string> quick{"--set", "model.tier=inertial"};
  const auto with = [&](std::vector<std::string> words) {
    words.insert(words.end(), quick.begin(), quick.end());
    return words;
  };
  const std::string swept = folder + "/swept.csv";
  const std::vector<std::string> sweep =
      with({pvp, "--vary", "rotation_speed=7000 rpm, 8000 rpm", "-o", swept, "--force", "--threads", "1"});
  std::vector<std::string> making{"sweep"};
  making.insert(making.end(), sweep.begin(), sweep.end());
  return {
      {"estimate", with({pvp})},
      {"sweep", sweep},
      {"window", with({pvp, "--diameter", "..100 um", "--over", "rotation_speed=7000 rpm..7500 rpm", "--over",
                       "gas_overpressure=0.05 MPa..0.06 MPa", "--quiet", "--threads", "1"})},
      {"merge", {swept, "-o", folder + "/merged.csv", "--force"}, making},
      {"explain", with({pvp, "--threads", "1"})},
      {"figure", with({pvp, "--kind", "path", "-o", folder + "/path.svg", "--force"})},
      {"calibrate", with({pcl, source + "/cases/measured/pcl-five-trials.csv", "--next-trials", "1", "--threads", "1"})},
      {"diameters", {source + "/cases/measured/pcl-chloroform-diameters.csv"}},
      {"recipe", with({pvp})},
      {"report", with({pvp, "-o", folder + "/report.html", "--no-map", "--force", "--threads", "1"})},
      {"check", {pvp, pcl}},
      {"materials", {"PVP", "ethanol"}},
  };
}

/// Commands that --help lists.
inline std::vector<std::string> listed(const std::string& help) {
  std::vector<std::string> out;
  std::size_t at = help.find("Subcommands:\n");
  if (at == std::string::npos) return out;
  for (at = help.find('\n', at) + 1; at < help.size() && help.compare(at, 2, "  ") == 0; at = help.find('\n', at) + 1) {
    if (help[at + 2] == ' ') continue;  // a description goes on
    out.push_back(help.substr(at + 2, help.find(' ', at + 2) - at - 2));
  }
  return out;
}

/// Standard output of a call in a form; its exit code.
inline std::string answer(const std::string& program, const std::string& folder, const Call& call,
                          const std::string& form, int& code) {
  const std::string out = folder + "/out", err = folder + "/err";
  if (!call.before.empty()) {
    std::vector<std::string> words{program};
    words.insert(words.end(), call.before.begin(), call.before.end());
    code = process::finish(process::start(words, out, err));
    if (code != 0) return process::read(err);
  }
  std::vector<std::string> words{program, call.command};
  words.insert(words.end(), call.rest.begin(), call.rest.end());
  words.insert(words.end(), {"--format", form});
  code = process::finish(process::start(words, out, err));
  return code == 0 ? process::read(out) : process::read(err);
}

}  // namespace every_command
