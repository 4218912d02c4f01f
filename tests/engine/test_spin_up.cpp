// The start of a run: ramps of speed and pressure, what leaves meanwhile, a pump, a supply that gives out.
#include <algorithm>
#include <cmath>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/engine/spin_up.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/model/run_progress.hpp"
#include "whorl/model/splitting.hpp"

using namespace whorl;

namespace {

model::CaseInput ramped(double viscosity, double overpressure_Pa) {
  model::CaseInput input = testing::plain_case(viscosity);
  testing::as_shipped(input);
  input.operation.gas_overpressure_Pa = overpressure_Pa;
  input.operation.charge_volume_m3 = 6e-6;
  return input;
}

}  // namespace

TEST_CASE("ramps: linear, one after the other or together", "[engine][spin-up][eq:start-ramps]") {
  model::OperationInput o;
  o.gas_overpressure_Pa = 1e5;
  o.spin_up_time_s = 4.0;
  o.pressure_rise_time_s = 1.0;
  const auto at = [&](model::StartOrder order, double t) {
    o.start_order = order;
    const auto s = engine::ramp_at(o, t);
    return std::pair{s.speed_share, s.pressure_share};
  };
  using Pair = std::pair<double, double>;
  CHECK(at(model::StartOrder::together, 0.5) == Pair{0.125, 0.5});
  CHECK(at(model::StartOrder::together, 2.0) == Pair{0.5, 1.0});
  CHECK(engine::ramp_time_s(o) == 4.0);
  CHECK(at(model::StartOrder::speed_first, 3.0) == Pair{0.75, 0.0});
  CHECK(at(model::StartOrder::speed_first, 4.25) == Pair{1.0, 0.25});
  CHECK(engine::ramp_time_s(o) == 5.0);
  CHECK(at(model::StartOrder::gas_first, 0.5) == Pair{0.0, 0.5});
  CHECK(at(model::StartOrder::gas_first, 3.0) == Pair{0.5, 1.0});
  o.gas_overpressure_Pa = 0.0;  // nothing to wait for
  CHECK(engine::ramp_time_s(o) == 4.0);
  o.spin_up_time_s = 0.0;
  CHECK(at(model::StartOrder::together, 0.0) == Pair{1.0, 0.0});
}

TEST_CASE("what leaves while the vessel speeds up, against a fine sum", "[engine][spin-up][eq:start-emptying]") {
  for (const double viscosity : {0.02, 0.2, 2.0}) {
    for (const double overpressure : {0.0, 1e5}) {
      for (const auto order : {model::StartOrder::together, model::StartOrder::gas_first, model::StartOrder::speed_first}) {
        model::CaseInput input = ramped(viscosity, overpressure);
        input.operation.start_order = order;
        const engine::Setup setup = engine::resolve(input, io::built_in_library());
        const engine::SpinUp start = engine::spin_up(setup);
        INFO(viscosity << " Pa s, " << overpressure << " Pa: " << start.reason);
        REQUIRE(start.status == model::Status::done);
        // midpoint rule in time, steps a hundred times shorter, none of its machinery
        const double charge = input.operation.charge_volume_m3;
        const double over = engine::ramp_time_s(input.operation);
        const int n = 4000;
        double volume = charge;
        for (int i = 0; i < n; ++i) {
          const double dt = over / n;
          const auto rate = [&](double t, double v) {
            const engine::Setup now = engine::at_ramp(setup, engine::ramp_at(input.operation, t));
            return setup.vessel.orifice_count * engine::solve_orifice(now, v).flow.flow_m3_s;
          };
          const double half = std::max(volume - 0.5 * dt * rate(i * dt, volume), 0.0);
          volume = std::max(volume - dt * rate((i + 0.5) * dt, half), 0.0);
        }
        CHECK(std::abs(start.volume_left_m3 - volume) < 0.01 * charge);
        double leaving = start.volume_left_m3;
        for (const auto& moment : start.moments) leaving += moment.leaving_m3;
        if (!start.moments.empty()) CHECK_THAT(leaving, WithinRel(charge, 1e-12));
      }
    }
  }
}

TEST_CASE("start, rest and heel are the charge", "[engine][spin-up]") {
  for (const double viscosity : {0.005, 0.02, 0.2, 2.0, 50.0}) {
    for (const double overpressure : {0.0, 0.3e5, 2e5}) {
      const model::CaseInput input = ramped(viscosity, overpressure);
      const model::Estimate e = engine::estimate(input, io::built_in_library());
      INFO(viscosity << " Pa s, " << overpressure << " Pa: " << e.reason);
      REQUIRE(e.status == model::Status::done);
      double volume = e.run.heel_volume_m3;
      for (const auto& point : e.run.points) volume += point.volume_m3;
      CHECK_THAT(volume, WithinRel(input.operation.charge_volume_m3, 1e-6));
      CHECK_THAT(e.run.polymer_mass_kg, WithinRel((input.operation.charge_volume_m3 - e.run.heel_volume_m3) * e.polymer_concentration_kg_m3, 1e-6));
      CHECK(e.run.share_at_full_settings >= 0.0);
      CHECK(e.run.share_at_full_settings <= 1.0);
    }
  }
}

TEST_CASE("when nine tenths of what leaves have left, against a fine sum", "[engine][spin-up]") {
  for (const double viscosity : {0.1, 1.0, 5.0}) {
    for (const double overpressure : {0.0, 1e5}) {
      for (const double charge : {2e-6, 6e-6}) {
        model::CaseInput input = ramped(viscosity, overpressure);
        input.operation.charge_volume_m3 = charge;
        input.operation.spin_up_time_s = 0.0;
        input.operation.pressure_rise_time_s = 0.0;
        const model::Estimate e = engine::estimate(input, io::built_in_library());
        REQUIRE(e.status == model::Status::done);
        const engine::Setup setup = engine::resolve(input, io::built_in_library());
        const double leaves = e.charge.volume_m3 - e.run.heel_volume_m3;
        for (const double share : {0.5, 0.9}) {
          // equal volumes one after the other, each at the flow of its middle
          const int n = 2000;
          double time = 0.0;
          for (int i = 0; i < n; ++i) {
            const double volume = e.charge.volume_m3 - share * leaves * (i + 0.5) / n;
            time += share * leaves / n / (setup.vessel.orifice_count * engine::solve_orifice(setup, volume).flow.flow_m3_s);
          }
          INFO(viscosity << " Pa s, " << overpressure << " Pa, " << 1e6 * charge << " mL, " << share << ": " << time << " of " << e.run.run_time_s << " s");
          CHECK_THAT(model::time_when_left_s(e.run, share), WithinRel(time, 0.12));
        }
        CHECK_THAT(model::time_when_left_s(e.run, 1.0), WithinRel(e.run.run_time_s, 1e-9));
        CHECK(model::time_when_left_s(e.run, 0.0) == 0.0);
      }
    }
  }
}

TEST_CASE("gas that goes through while the vessel speeds up: for a while, or for good", "[engine][spin-up]") {
  // A shallow charge: the layer over the orifices is thin until the vessel is fast, and gas goes through it; once it is
  // thick no more, until it has thinned.
  bool gap = false, for_good = false;
  for (const double viscosity : {0.05, 0.3, 1.0, 4.0, 8.0}) {
    const model::CaseInput input = ramped(viscosity, 1e5);
    const engine::Setup setup = engine::resolve(input, io::built_in_library());
    const engine::SpinUp start = engine::spin_up(setup);
    const model::Estimate e = engine::estimate(input, io::built_in_library());
    const model::RunSummary& run = e.run;
    INFO(viscosity << " Pa s: gas from " << start.first_gas.time_s << " s, for good from " << run.breakthrough_time_s);
    REQUIRE(run.breakthrough);
    if (!run.breakthrough_lasts) continue;
    // with gas from break-through to the heel, and before for a while only
    const double charge = input.operation.charge_volume_m3;
    const double left = charge - run.heel_volume_m3;
    const double later = (run.breakthrough_left * charge - run.heel_volume_m3) / left;
    if (run.early_gas_time_s < 0.0) {
      CHECK_THAT(run.share_with_gas, WithinRel(later, 2e-3));
    } else {
      CHECK(run.share_with_gas > later);
    }
    // what is left then is what the start, or the run, has left at that time
    if (run.breakthrough_time_s > start.full_time_s) {
      CHECK(run.breakthrough_left * charge < start.volume_left_m3 * (1.0 + 1e-12));
      gap = gap || run.early_gas_time_s >= 0.0;
    } else {
      const engine::StartMoment then = engine::start_moment(setup, start, run.breakthrough_left * charge);
      CHECK_THAT(then.time_s, WithinAbs(run.breakthrough_time_s, 1e-6 + 2e-3 * start.full_time_s));
      for_good = true;
    }
  }
  CHECK(gap);
  CHECK(for_good);
}

TEST_CASE("an open lid: what stays in the vessel leaves in the start, in the rest or is the heel", "[engine][spin-up]") {
  for (const double lid_m : {0.0, 30e-3, 40e-3}) {
    for (const double spin_up_s : {0.0, 8.0}) {
      model::CaseInput input = ramped(0.2, 1e5);
      input.operation.charge_volume_m3 = 30e-6;
      input.operation.spin_up_time_s = spin_up_s;
      input.vessel.lid_opening_diameter_m = lid_m;
      const model::Estimate e = engine::estimate(input, io::built_in_library());
      INFO("opening " << lid_m << " m, start of " << spin_up_s << " s: " << e.reason);
      REQUIRE(e.status == model::Status::done);
      CHECK((e.charge.spilled_volume_m3 > 1e-6) == (lid_m > 35e-3));
      CHECK_THAT(e.charge.volume_m3 + e.charge.spilled_volume_m3, WithinRel(input.operation.charge_volume_m3, 1e-9));
      double volume = e.run.heel_volume_m3;
      for (const auto& point : e.run.points) volume += point.volume_m3;
      CHECK_THAT(volume, WithinRel(e.charge.volume_m3, 1e-6));
      CHECK(e.run.share_at_full_settings <= 1.0);
      if (spin_up_s > 0.0) CHECK(e.run.share_at_full_settings < 0.95);
      for (const auto& point : e.run.points) CHECK(point.emptied_fraction >= 0.0);
    }
  }
}

TEST_CASE("no ramps: the run of full settings, and a slow start moves it there continuously", "[engine][spin-up]") {
  model::CaseInput input = testing::plain_case(1.0);
  const model::Estimate full = engine::estimate(input, io::built_in_library());
  CHECK(full.run.share_at_full_settings == 1.0);
  CHECK(full.run.full_settings_time_s == 0.0);
  input.operation.spin_up_time_s = 1e-3;
  const model::Estimate quick = engine::estimate(input, io::built_in_library());
  CHECK_THAT(quick.run.run_time_s, WithinRel(full.run.run_time_s, 1e-3));
  CHECK_THAT(quick.run.dry_diameter_mean_m, WithinRel(full.run.dry_diameter_mean_m, 1e-3));
  // a thin charge is gone before a slow vessel is at speed
  input.solution.measured.zero_shear_viscosity_Pa_s = 5e-3;
  input.operation.gas_overpressure_Pa = 2e5;
  input.operation.spin_up_time_s = 10.0;
  const model::Estimate gone = engine::estimate(input, io::built_in_library());
  REQUIRE(gone.status == model::Status::done);
  CHECK(gone.run.share_at_full_settings < 0.05);
  CHECK(gone.run.mean_speed_rad_s < 0.6 * input.operation.rotation_speed_rad_s);
}

TEST_CASE("fed by a pump: the orifices pass the feed, lines grow with its root, spill is said", "[engine][feed]") {
  model::CaseInput input = testing::plain_case(0.05);
  input.operation.collection_distance_m = 0.05;
  const auto at = [&](double feed, double rpm) {
    auto there = input;
    there.operation.feed_rate_m3_s = feed;
    there.operation.rotation_speed_rad_s = rpm * model::kPi / 30.0;
    const auto e = engine::estimate(there, io::built_in_library());
    INFO(feed << " m3/s at " << rpm << " rpm: " << e.reason);
    REQUIRE(e.status == model::Status::done);
    return e;
  };
  const double feed = 2e-8;
  const auto e = at(feed, 8000.0);
  CHECK_THAT(input.vessel.orifice_count * e.orifice.flow_m3_s, WithinRel(feed, 1e-9));
  CHECK_THAT(e.run.run_time_s, WithinRel(input.operation.charge_volume_m3 / feed, 1e-9));
  CHECK(e.spilled_by_feed == 0.0);
  // mass balance of one line: d ~ (Q/u)^(1/2), exactly
  for (const auto& [other_feed, rpm] : {std::pair{4e-8, 8000.0}, std::pair{feed, 6000.0}, std::pair{1e-8, 11000.0}}) {
    const auto other = at(other_feed, rpm);
    CHECK_THAT(input.vessel.orifice_count * other.orifice.flow_m3_s, WithinRel(other_feed, 1e-9));
    const double by_balance = std::sqrt(other_feed / feed * e.jet.end_speed_m_s / other.jet.end_speed_m_s);
    CHECK_THAT(other.line_diameter_m / e.line_diameter_m, WithinRel(by_balance, 1e-9));
  }
  // published direction for lines fed by a pump: faster is finer
  CHECK(at(feed, 12000.0).line_diameter_m < at(feed, 6000.0).line_diameter_m);
  // more than the orifices pass
  const auto much = at(1e-4, 8000.0);
  CHECK(input.vessel.orifice_count * much.orifice.flow_m3_s < 1e-4);
  CHECK_THAT(much.spilled_by_feed, WithinAbs(1.0 - input.vessel.orifice_count * much.orifice.flow_m3_s / 1e-4, 1e-6));
}

TEST_CASE("a charge that is gone before full settings: the run ends with the start", "[engine][spin-up]") {
  // thin enough to run out while the gas still comes on
  model::CaseInput input = ramped(0.002, 3e5);
  input.model.gas_breakthrough = model::GasBreakthrough::off;
  input.operation.pressure_rise_time_s = 30.0;
  const auto e = engine::estimate(input, io::built_in_library());
  INFO(e.reason);
  REQUIRE(e.status == model::Status::done);
  CHECK_THAT(e.run.run_time_s, WithinRel(30.0, 1e-3));
  CHECK(e.run.share_at_full_settings < 1e-2);
  CHECK(e.run.emptied_fraction > 0.9);
  CHECK_FALSE(e.run.points.empty());
  // what just covers the orifices leaves faster than any step: it runs dry with the ramp
  input = io::read_case_file(testing::case_path("peo-water-training")).input;
  input.model.tier = model::Tier::inertial;
  input.model.drying = model::DryingModel::lumped;
  input.model.gas_breakthrough = model::GasBreakthrough::off;
  input.operation.charge_volume_m3 = 0.12e-6;
  input.operation.rotation_speed_rad_s = 30000.0 * model::kPi / 30.0;
  input.operation.start_order = model::StartOrder::speed_first;
  const auto start = engine::spin_up(engine::resolve(input, io::built_in_library()));
  INFO(start.reason);
  REQUIRE(start.status == model::Status::done);
  CHECK_THAT(start.course.back().first, WithinRel(start.full_time_s, 1e-12));
  CHECK(start.course.size() < 1000);
  CHECK(start.volume_left_m3 < 0.01 * input.operation.charge_volume_m3);
}

TEST_CASE("an open lid: moments of the run stand for what the vessel keeps", "[engine][spin-up]") {
  model::CaseInput input = ramped(1.0, 1e5);
  input.operation.charge_volume_m3 = 40e-6;
  input.vessel.lid_opening_diameter_m = 0.9 * input.vessel.bore_diameter_m;
  const auto e = engine::estimate(input, io::built_in_library());
  INFO(e.reason);
  REQUIRE(e.status == model::Status::done);
  REQUIRE(e.charge.spilled_volume_m3 > 0.0);
  double sum = 0.0;
  for (const auto& point : e.run.points) sum += point.volume_m3;
  CHECK_THAT(sum, WithinRel((input.operation.charge_volume_m3 - e.charge.spilled_volume_m3) * e.run.emptied_fraction, 1e-6));
}

TEST_CASE("fed by a pump into a vessel with an open lid: what goes over it is of the feed, not of a charge", "[engine][feed]") {
  model::CaseInput input = testing::plain_case(0.05);
  input.vessel.lid_opening_diameter_m = 0.5 * input.vessel.bore_diameter_m;
  input.operation.charge_volume_m3 = 1e-6;  // less than the lid lets spill of a full vessel
  input.operation.feed_rate_m3_s = 1e-4;
  const auto e = engine::estimate(input, io::built_in_library());
  INFO(e.reason);
  REQUIRE(e.status == model::Status::done);
  const double passed = input.vessel.orifice_count * e.orifice.flow_m3_s / 1e-4;
  CHECK(passed < 1.0);
  CHECK_THAT(e.run.emptied_fraction, WithinRel(passed, 1e-9));
  CHECK(e.charge.spilled_volume_m3 == 0.0);
  for (const auto& point : e.run.points) CHECK(point.volume_m3 > 0.0);
}

TEST_CASE("fed by a pump: the overpressure falls to what the gas supply holds, as of a charge", "[engine][feed][gas-supply]") {
  model::CaseInput input = ramped(0.5, 1e5);
  input.operation.feed_rate_m3_s = 1e-8;
  const auto free = engine::estimate(input, io::built_in_library());
  REQUIRE(free.status == model::Status::done);
  REQUIRE(free.run.gas_supply_most_m3_s > 0.0);
  double before = free.orifice.gas_overpressure_Pa;
  for (const double share : {0.9, 0.3, 0.05}) {
    const double supply = share * free.run.gas_supply_most_m3_s;
    input.operation.gas_supply_m3_s = supply;
    const auto e = engine::estimate(input, io::built_in_library());
    INFO(share << ": " << e.reason);
    REQUIRE(e.status == model::Status::done);
    CHECK_THAT(e.run.gas_supply_most_m3_s, WithinRel(supply, 1e-6));
    CHECK_THAT(input.vessel.orifice_count * e.orifice.flow_m3_s, WithinRel(*input.operation.feed_rate_m3_s, 1e-9));
    CHECK(e.orifice.gas_overpressure_Pa < before);
    CHECK(e.threads.dry_diameter_m > free.threads.dry_diameter_m);  // a slower gas tears coarser
    before = e.orifice.gas_overpressure_Pa;
  }
}

TEST_CASE("a gas supply that gives out lets the pressure fall to what it holds", "[engine][gas-supply]") {
  model::CaseInput input = ramped(0.5, 2e5);
  input.operation.charge_volume_m3 = 0.8e-6;
  const auto demand = [&](const model::Estimate& e) {
    double most = 0.0;
    for (const auto& p : e.run.points)
      most = std::max(most, model::normal_flow_m3_s(p.orifice.gas_flow_kg_s, 0.0289647) * input.vessel.orifice_count);
    return most;
  };
  const auto free = engine::estimate(input, io::built_in_library());
  REQUIRE(free.status == model::Status::done);
  REQUIRE(free.run.gas_supply_most_m3_s > 0.0);
  double before = 1e300;
  for (const double share : {2.0, 0.9, 0.5, 0.2, 0.05}) {
    const double supply = share * free.run.gas_supply_most_m3_s;
    input.operation.gas_supply_m3_s = supply;
    const auto e = engine::estimate(input, io::built_in_library());
    INFO(share << ": " << e.reason);
    REQUIRE(e.status == model::Status::done);
    CHECK(demand(e) <= supply * (1.0 + 1e-3));  // moist air is lighter than dry by some per mille
    CHECK(e.run.gas_supply_most_m3_s <= supply * (1.0 + 1e-6));
    CHECK(e.run.gas_supply_mean_m3_s <= supply * (1.0 + 1e-6));
    // the gas that is told of one orifice is at the pressure that is left: its share of one that blows alone
    CHECK(e.gas.gas_flow_kg_s > 0.0);
    CHECK_THAT(e.gas.gas_flow_kg_s, WithinRel(e.gas.gas_share * e.gas.open_flow_kg_s, 1e-9));
    CHECK(e.run.mean_overpressure_Pa <= before * (1.0 + 1e-9));
    before = e.run.mean_overpressure_Pa;
    if (share > 1.0) CHECK_THAT(e.run.mean_overpressure_Pa, WithinRel(free.run.mean_overpressure_Pa, 1e-9));
    double volume = e.run.heel_volume_m3;
    for (const auto& point : e.run.points) volume += point.volume_m3;
    CHECK_THAT(volume, WithinRel(input.operation.charge_volume_m3, 1e-6));
  }
  CHECK(before < 0.9 * free.run.mean_overpressure_Pa);
}

TEST_CASE("a gas supply that gives out: the size is that of most threads, and it is said", "[engine][gas-supply]") {
  // most of what leaves with gas leaves before full settings; later the pressure is a fraction of what it was
  model::CaseInput input = ramped(0.1, 2e5);
  input.operation.gas_supply_m3_s = 10.0 / 6e4;
  const auto e = engine::estimate(input, io::built_in_library());
  REQUIRE(e.status == model::Status::done);
  REQUIRE(e.threads.predicted);
  // half of the mass of the threads is thicker, half finer
  double finer = 0.0, all = 0.0;
  for (const model::RunPoint& point : e.run.points) {
    if (!(point.thread_diameter_m > 0.0)) continue;
    all += point.volume_m3;
    if (point.thread_diameter_m < e.threads.dry_diameter_m) finer += point.volume_m3;
  }
  REQUIRE(all > 0.0);
  INFO(1e6 * e.threads.dry_diameter_m << " um; finer: " << finer / all);
  CHECK(finer / all > 0.2);
  CHECK(finer / all < 0.8);
  const auto said = [](const model::Estimate& of, const char* words) {
    return std::any_of(of.warnings.begin(), of.warnings.end(), [&](const model::Warning& w) {
      return w.code == "gas-breakthrough" && w.text.find(words) != std::string::npos;
    });
  };
  CHECK(said(e, "that the supply holds: the overpressure falls below the 0.2 MPa"));
  input.operation.gas_supply_m3_s.reset();
  const auto enough = engine::estimate(input, io::built_in_library());
  CHECK(said(enough, "The supply must hold"));
}

TEST_CASE("fed by a pump with gas_breakthrough off: what is said of the gas is what the numbers have",
          "[engine][feed]") {
  model::CaseInput input = ramped(0.5, 2e5);
  input.model.gas_breakthrough = model::GasBreakthrough::off;
  int with_gas = 0;
  for (const double feed : {2e-9, 2e-8, 1e-7, 3e-7, 1e-6}) {
    input.operation.feed_rate_m3_s = feed;
    const auto e = engine::estimate(input, io::built_in_library());
    INFO(feed << ": " << e.reason);
    REQUIRE(e.status == model::Status::done);
    const auto found = std::find_if(e.warnings.begin(), e.warnings.end(),
                                    [](const model::Warning& w) { return w.code == "gas-breakthrough"; });
    if (found == e.warnings.end()) continue;
    INFO(found->text);
    CHECK(found->text.find("upper bound") == std::string::npos);  // the throughput is the pump's
    const bool flows = e.orifice.gas_flow_kg_s > 0.0;
    CHECK((found->text.find("Gas leaves") != std::string::npos) == flows);
    CHECK((found->text.find("keeps the orifices full") != std::string::npos) == !flows);
    CHECK((found->text.find("supply") != std::string::npos) == flows);
    with_gas += flows ? 1 : 0;
  }
  CHECK(with_gas > 0);
}

TEST_CASE("fed by a pump: the layer grows until the feed leaves, also where a bare film pushes nothing out",
          "[engine][feed]") {
  model::CaseInput input = testing::plain_case(1.0);
  int pushed = 0, held = 0;
  for (double rpm = 100.0; rpm < 3000.0; rpm *= 1.15) {
    input.operation.rotation_speed_rad_s = 2.0 * model::kPi * rpm / 60.0;
    input.operation.feed_rate_m3_s.reset();
    const engine::Setup charged = engine::resolve(input, io::built_in_library());
    const double radius = charged.vessel.bore_radius_m;
    const double full = model::kPi * radius * radius * charged.vessel.height_m;
    const double dry = model::wetting_volume_m3(charged.vessel, input.operation.rotation_speed_rad_s);
    const double n = input.vessel.orifice_count;
    const auto most = engine::solve_orifice(charged, full);
    const auto least = engine::solve_orifice(charged, dry + 1e-6 * (full - dry));
    if (!(most.flow.flow_m3_s > 0.0)) continue;
    input.operation.feed_rate_m3_s = 0.5 * n * most.flow.flow_m3_s;
    const auto fed = engine::solve_orifice(engine::resolve(input, io::built_in_library()), full);
    INFO(rpm << " rpm: " << fed.reason);
    REQUIRE(fed.status == model::Status::done);
    CHECK_THAT(n * fed.flow.flow_m3_s, WithinRel(*input.operation.feed_rate_m3_s, 1e-9));
    ++(least.flow.flow_m3_s > 0.0 ? pushed : held);
  }
  CHECK(pushed > 0);
  CHECK(held > 0);
}

TEST_CASE("fed by a pump with gas_breakthrough off: gas is foreseen at the feeds at which it leaves with it on",
          "[engine][feed]") {
  model::CaseInput input = ramped(0.5, 2e5);
  int left_out = 0, covered = 0;
  // the full flow hangs little on the layer: close steps from just below what a bare film gives
  const engine::Setup charged = engine::resolve(input, io::built_in_library());
  const double dry = model::wetting_volume_m3(charged.vessel, input.operation.rotation_speed_rad_s);
  const double bare =
      input.vessel.orifice_count * engine::solve_orifice(charged, 1.0001 * dry).flow.full_flow_m3_s;
  for (double feed = 0.9 * bare; feed < 1.5 * bare; feed *= 1.01) {
    input.operation.feed_rate_m3_s = feed;
    input.model.gas_breakthrough = model::GasBreakthrough::on;
    const engine::Setup on = engine::resolve(input, io::built_in_library());
    input.model.gas_breakthrough = model::GasBreakthrough::off;
    const engine::Setup off = engine::resolve(input, io::built_in_library());
    const auto blown = engine::solve_orifice(on, input.operation.charge_volume_m3);
    const auto kept = engine::solve_orifice(off, input.operation.charge_volume_m3);
    INFO(feed << " m3/s: " << kept.reason);
    REQUIRE(blown.status == model::Status::done);
    REQUIRE(kept.status == model::Status::done);
    const auto run = engine::run_down(off, kept, {}).summary;
    CHECK(run.breakthrough == (blown.flow.gas_flow_kg_s > 0.0));
    if (run.breakthrough && !(kept.flow.gas_flow_kg_s > 0.0)) ++left_out;
    if (!run.breakthrough) ++covered;
  }
  CHECK(left_out > 0);  // between a bare film and the layer that covers the orifices
  CHECK(covered > 0);
}

TEST_CASE("the most gas that the supply must hold: of the moments of the start, too, and of the end",
          "[engine][gas-supply]") {
  int end_is_most = 0;
  for (const auto order : {model::StartOrder::together, model::StartOrder::gas_first}) {
    for (const double charge : {1.5e-6, 6e-6}) {
      model::CaseInput input = ramped(0.5, 1e5);
      input.operation.charge_volume_m3 = charge;
      input.operation.start_order = order;
      const engine::Setup setup = engine::resolve(input, io::built_in_library());
      const auto e = engine::estimate(setup, {});
      INFO(charge << " m3, order " << static_cast<int>(order) << ": " << e.reason);
      REQUIRE(e.status == model::Status::done);
      const auto normal = [&](const model::OrificeFlow& flow) {
        return model::normal_flow_m3_s(flow.gas_flow_kg_s * setup.vessel.orifice_count, setup.air.molar_mass_kg_mol);
      };
      const double end = normal(engine::solve_orifice(setup, e.run.heel_volume_m3).flow);
      double most = std::max(end, e.run.gas_supply_mean_m3_s);
      for (const auto& point : e.run.points) most = std::max(most, normal(point.orifice));
      REQUIRE(most > 0.0);
      CHECK_THAT(e.run.gas_supply_most_m3_s, WithinRel(most, 1e-9));
      if (!(end < most)) ++end_is_most;
      // along the run at full settings nothing is above it
      const double left = engine::spin_up(setup).volume_left_m3;
      constexpr int kLooks = 50;
      for (int i = 0; i <= kLooks; ++i) {
        const double volume = e.run.heel_volume_m3 + (left - e.run.heel_volume_m3) * i / kLooks;
        CHECK(normal(engine::solve_orifice(setup, volume).flow) <= most * (1.0 + 1e-9));
      }
    }
  }
  CHECK(end_is_most > 0);
}
