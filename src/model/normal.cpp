#include "model/normal.hpp"

#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

namespace whorl::model {

namespace bm = boost::math;

double normal_below(double x, double mean, double sd) { return bm::cdf(bm::normal(mean, sd), x); }
double normal_above(double x, double mean, double sd) { return bm::cdf(bm::complement(bm::normal(mean, sd), x)); }
double normal_point(double share) { return bm::quantile(bm::normal(), share); }
double student_point(double freedom, double share) { return bm::quantile(bm::students_t(freedom), share); }
double fisher_point(double freedom_above, double freedom_below, double share) {
  return bm::quantile(bm::fisher_f(freedom_above, freedom_below), share);
}

}  // namespace whorl::model
