// The report page without a browser: escaping, digests, thinning of lines. tests/report opens it in one.
#include <cmath>

#include "catch.hpp"
#include "figures/report_page.hpp"
#include "figures/thinning.hpp"

using namespace whorl::io;

TEST_CASE("base64: the examples of the standard") {
  // RFC 4648, section 10.
  CHECK(whorl::figures::base64("").empty());
  CHECK(whorl::figures::base64("f") == "Zg==");
  CHECK(whorl::figures::base64("fo") == "Zm8=");
  CHECK(whorl::figures::base64("foo") == "Zm9v");
  CHECK(whorl::figures::base64("foob") == "Zm9vYg==");
  CHECK(whorl::figures::base64("fooba") == "Zm9vYmE=");
  CHECK(whorl::figures::base64("foobar") == "Zm9vYmFy");
  CHECK(whorl::figures::base64("\xff\xfe") == "//4=");
}

TEST_CASE("report page: text cannot become markup") {
  const std::string hostile = "<script>alert(1)</script>\"'&";
  whorl::figures::ReportPage page;
  page.title = page.lead = page.footer = hostile;
  page.cautions = {hostile};
  whorl::figures::PageTable table{"t", hostile, {hostile}, {{{hostile, hostile, false, {{hostile, true, -1}}}}}};
  whorl::figures::Figure figure;
  figure.caption = hostile;
  whorl::figures::PageExplorer explorer;
  explorer.intro = hostile;
  explorer.data_json = "{\"a\":\"</script><script>alert(1)</script>\"}";
  page.sections = {{"s", hostile, whorl::figures::html_paragraph(hostile) + whorl::figures::html_list({hostile}) + whorl::figures::html_heading(hostile) + whorl::figures::html_table(table) + whorl::figures::html_figure(figure) + whorl::figures::html_explorer(explorer)}};
  const std::string html = whorl::figures::report_html(page);
  std::size_t scripts = 0;
  for (std::size_t at = 0; (at = html.find("<script", at)) != std::string::npos; ++at) ++scripts;
  CHECK(scripts == 2);  // the data and the page's own
  CHECK(html.find("alert(1)</script>") == std::string::npos);
  CHECK(html.find("http://") == html.find("http://www.w3.org/2000/svg"));  // the name of a vocabulary, not an address
  CHECK(html.find("https://") == std::string::npos);
}

TEST_CASE("thinning keeps a line within its tolerance, and little of a straight one") {
  std::vector<double> along, straight, bent;
  for (int i = 0; i <= 1000; ++i) {
    along.push_back(0.01 * i);
    straight.push_back(3.0 - 2.0 * along.back());
    bent.push_back(std::sin(along.back()));
  }
  CHECK(whorl::figures::thinned({straight}, {1e-9}, along) == std::vector<std::size_t>{0, 1000});
  const auto kept = whorl::figures::thinned({straight, bent}, {1e-9, 0.01}, along);
  CHECK(kept.size() > 10);
  CHECK(kept.size() < 60);  // a chord of angle a leaves a^2/8 = 0.01: a = 0.28, so about 10/0.28 = 35 of them where it bends most
  CHECK(kept.front() == 0);
  CHECK(kept.back() == 1000);
  for (std::size_t k = 1; k < kept.size(); ++k)
    for (std::size_t i = kept[k - 1]; i <= kept[k]; ++i) {
      const double share = (along[i] - along[kept[k - 1]]) / (along[kept[k]] - along[kept[k - 1]]);
      CHECK(std::abs(bent[i] - (bent[kept[k - 1]] + share * (bent[kept[k]] - bent[kept[k - 1]]))) <= 0.01 + 1e-12);
    }
  CHECK(whorl::figures::thinned({{}}, {1.0}, {}).empty());
  CHECK_THROWS_AS(whorl::figures::thinned({{1.0}}, {1.0}, {}), std::invalid_argument);
}
