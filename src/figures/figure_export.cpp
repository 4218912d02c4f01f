#include "figures/figure_export.hpp"

#include <cmath>
#include <cstdint>
#include <memory>
#include <stdexcept>

#include "figures/figure_text.hpp"
#include "whorl/model/error.hpp"

#ifdef WHORL_WITH_RSVG
#include "figures/rsvg_library.hpp"
#endif

namespace whorl::figures {

bool can_export() { return no_export().empty(); }

FigureFile figure_file_type(const std::string& path) {
  const std::size_t dot = path.rfind('.');
  const std::string ending = dot == std::string::npos ? std::string() : path.substr(dot + 1);
  if (ending == "svg") return FigureFile::svg;
  if (ending != "pdf" && ending != "png")
    throw InputError("", "-o", '"' + path + '"', "a file name that ends in .svg, .pdf or .png");
  const std::string missing = no_export();
  if (!missing.empty()) throw InputError("", "-o", '"' + path + '"', "an .svg file: " + missing);
  return ending == "pdf" ? FigureFile::pdf : FigureFile::png;
}

#ifndef WHORL_WITH_RSVG

std::string no_export(const char*) {
  return "this program was built without librsvg (package librsvg2-dev), which writes PDF and PNG";
}

std::string exported(const Figure& figure, FigureFile type, double, const FigureOrigin& origin) {
  if (type != FigureFile::svg) throw InputError("", "-o", "PDF or PNG", "a program built with librsvg");
  return svg_with_origin(figure.svg, origin);
}

#else

namespace {

struct Unref {
  void operator()(RsvgHandle* handle) const { rsvg().g_object_unref(handle); }
  void operator()(cairo_surface_t* surface) const { rsvg().cairo_surface_destroy(surface); }
  void operator()(cairo_t* context) const { rsvg().cairo_destroy(context); }
};

cairo_status_t append(void* closure, const unsigned char* data, unsigned int length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

void check(cairo_status_t status) {
  if (status == CAIRO_STATUS_SUCCESS) return;
  throw std::runtime_error(std::string("cairo: ") + rsvg().cairo_status_to_string(status));
}

std::uint32_t crc32(const std::string& bytes) {
  std::uint32_t crc = 0xffffffffU;
  for (const char c : bytes) {
    crc ^= static_cast<unsigned char>(c);
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1U) != 0 ? (crc >> 1U) ^ 0xedb88320U : crc >> 1U;
  }
  return ~crc;
}

std::string sources_text(const FigureOrigin& origin) {
  std::string text;
  for (const std::string& source : origin.sources) text += (text.empty() ? "" : "; ") + source;
  return text;
}

std::string big_endian(std::uint32_t value) {
  std::string out;
  for (int shift = 24; shift >= 0; shift -= 8)
    out.push_back(static_cast<char>((value >> static_cast<unsigned>(shift)) & 0xffU));
  return out;
}

// A chunk of a PNG: length, type, data, check sum (PNG specification, third edition, 5.3).
std::string chunk(const std::string& type, const std::string& data) {
  return big_endian(static_cast<std::uint32_t>(data.size())) + type + data + big_endian(crc32(type + data));
}

// Text in UTF-8 (11.3.3.4): keyword, not compressed, no language, no translated keyword.
std::string text_chunk(const std::string& keyword, const std::string& text) {
  return chunk("iTXt", keyword + std::string(5, '\0') + text);
}

// The size as printed (chunk pHYs, 11.3.4.3) and where the picture comes from, behind the header chunk IHDR, whose
// length is fixed. cairo leaves both out.
void set_information(std::string& png, double dpi, const FigureOrigin& origin) {
  constexpr std::size_t kAfterHeader = 8 + 4 + 4 + 13 + 4;
  const auto per_metre = static_cast<std::uint32_t>(std::lround(dpi / 0.0254));
  std::string chunks = chunk("pHYs", big_endian(per_metre) + big_endian(per_metre) + '\x01') +
                       text_chunk("Software", origin.maker) + text_chunk("Source", sources_text(origin));
  if (!origin.options.empty()) chunks += text_chunk("Comment", "options " + origin.options);
  png.insert(kAfterHeader, chunks);
}

// Draws the document over the whole of a surface that is `width` by `height` in its own units.
void render(RsvgHandle* handle, cairo_surface_t* surface, double width, double height) {
  const std::unique_ptr<cairo_t, Unref> context(rsvg().cairo_create(surface));
  rsvg().cairo_set_source_rgb(context.get(), 1.0, 1.0, 1.0);
  rsvg().cairo_paint(context.get());
  const RsvgRectangle area{0.0, 0.0, width, height};
  GError* error = nullptr;
  if (rsvg().rsvg_handle_render_document(handle, context.get(), &area, &error) == 0) {
    const std::string message = error != nullptr ? error->message : "unknown";
    rsvg().g_clear_error(&error);
    throw std::runtime_error("librsvg: " + message);
  }
  check(rsvg().cairo_status(context.get()));
}

}  // namespace

std::string no_export(const char* library) {
  const std::string missing = library != nullptr ? load_rsvg(library).missing : rsvg().missing;
  if (missing.empty()) return {};
  return "librsvg, which writes PDF and PNG, is not there or too old (package librsvg2-2): " + missing;
}

std::string exported(const Figure& figure, FigureFile type, double dpi, const FigureOrigin& origin) {
  if (type == FigureFile::svg) return svg_with_origin(figure.svg, origin);
  if (!(dpi >= 50.0 && dpi <= 2400.0)) throw InputError("", "--dpi", print_number(dpi), "50 to 2400");
  GError* error = nullptr;
  const std::unique_ptr<RsvgHandle, Unref> handle(rsvg().rsvg_handle_new_from_data(
      reinterpret_cast<const guint8*>(figure.svg.data()), static_cast<gsize>(figure.svg.size()), &error));
  if (!handle) {
    const std::string message = error != nullptr ? error->message : "unknown";
    rsvg().g_clear_error(&error);
    throw std::runtime_error("librsvg: " + message);
  }
  std::string bytes;
  if (type == FigureFile::pdf) {
    const std::unique_ptr<cairo_surface_t, Unref> surface(
        rsvg().cairo_pdf_surface_create_for_stream(append, &bytes, figure.width_pt, figure.height_pt));
    check(rsvg().cairo_surface_status(surface.get()));
    // From 1.5 on cairo packs what a file is of into compressed objects, where a text search does not find it.
    rsvg().cairo_pdf_surface_restrict_to_version(surface.get(), CAIRO_PDF_VERSION_1_4);
    rsvg().cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, figure.title.c_str());
    rsvg().cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_SUBJECT, figure.caption.c_str());
    rsvg().cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_CREATOR, origin.maker.c_str());
    const std::string keywords = sources_text(origin) + (origin.options.empty() ? "" : "; options " + origin.options);
    rsvg().cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_KEYWORDS, keywords.c_str());
    rsvg().cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_CREATE_DATE,
                                   "");  // the same input gives the same bytes
    render(handle.get(), surface.get(), figure.width_pt, figure.height_pt);
    rsvg().cairo_surface_finish(surface.get());
    check(rsvg().cairo_surface_status(surface.get()));
    return bytes;
  }
  const double across = std::round(figure.width_pt / 72.0 * dpi);
  const double down = std::round(figure.height_pt / 72.0 * dpi);
  if (across * down > 4e8 || across > 32000.0 || down > 32000.0)
    throw InputError("", "--dpi", print_number(dpi),
                     "fewer: the picture would have " + print_number(across) + " by " + print_number(down) + " dots");
  const std::unique_ptr<cairo_surface_t, Unref> surface(
      rsvg().cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(across), static_cast<int>(down)));
  check(rsvg().cairo_surface_status(surface.get()));
  render(handle.get(), surface.get(), across, down);
  check(rsvg().cairo_surface_write_to_png_stream(surface.get(), append, &bytes));
  set_information(bytes, dpi, origin);
  return bytes;
}

#endif

}  // namespace whorl::figures
