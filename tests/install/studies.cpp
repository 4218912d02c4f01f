// Five questions to one case file, with the installed library alone. Prints one line for each; exit code 1 where one has no answer.
#include <cstdio>

#include "whorl/engine/batch.hpp"
#include "whorl/engine/neighbours.hpp"
#include "whorl/io/trial_data.hpp"
#include "whorl/study/case_runner.hpp"
#include "whorl/study/explanation.hpp"
#include "whorl/study/sweep_spec.hpp"
#include "whorl/study/trial_calibration.hpp"
#include "whorl/study/window_search.hpp"

using namespace whorl;

int main() {
  try {
    study::LoadedCase loaded = study::load_case(CASES_DIR "/pcl-chloroform.json");
    loaded.file.input.model.tier = model::Tier::inertial;  // hundreds of runs in seconds
    const model::CaseInput& input = loaded.file.input;
    engine::EstimateOptions quick;
    quick.run_distribution = false;
    const engine::BatchRunner runner = engine::serial_runner(study::case_runner(loaded, quick));

    const model::Estimate e = study::calibrated_estimate(loaded, input, quick);
    std::printf("estimate %.12g um\n", 1e6 * e.line_diameter_m);

    const study::SweepSpec spec = study::combine({}, {{"rotation_speed=6000 rpm..12000 rpm:3"}, {}, {}, {}}, loaded.file.name);
    const auto swept = runner(study::cases_of(spec, study::make_design(spec, loaded.file.name), input));
    for (const model::Estimate& one : swept) std::printf("sweep %.6g um\n", 1e6 * one.line_diameter_m);

    const study::WindowWishes wanted = study::parse_window_options(
        {"0.1 um..100 um", {}, "any", {}, {"rotation_speed=7000 rpm..8000 rpm", "gas_overpressure=0.05 MPa..0.06 MPa"}, {}});
    const study::WindowResult window =
        study::find_window(loaded, study::window_spec({}, wanted, loaded.file), runner, engine::SamplePlan{2, 2, 1});
    const auto best = study::likeliest(window);
    std::printf("window %zu runs, likeliest %s\n", window.runs, best ? "known" : "not known");

    io::TrialData trials = io::read_trial_text("rotation_speed_rpm,diameter_mean_um\n6000,2.6\n9000,2.1\n12000,1.8\n", "trials");
    const study::TrialCalibration law(&loaded, trials, 0.0);
    const study::LawPrediction predicted = law.predict(input, input, loaded.library);
    std::printf("calibrate %zu trials, ln d %.6g\n", law.study().input().trials.size(), predicted.median);

    const auto one = [&](const model::CaseInput& c, const engine::EstimateOptions& how) {
      return study::calibrated_estimate(loaded, c, how);
    };
    const study::PointReport why =
        study::report_point(loaded, "the case", engine::neighbour_runner(one, quick, engine::serial_loop()));
    std::printf("explain %zu inputs\n", why.elasticities.rows.size());
    return e.line_diameter_m > 0.0 && swept.size() == 3 && best && !why.elasticities.rows.empty() ? 0 : 1;
  } catch (const std::exception& error) {
    std::printf("%s\n", error.what());
    return 2;
  }
}
