// librsvg and cairo, loaded when the first PDF or PNG is asked for.
#pragma once
#include <cairo-pdf.h>
#include <cairo.h>
#include <librsvg/rsvg.h>

#include <string>

namespace whorl::figures {

/// Their functions, members named alike. Linked, the two would bring forty libraries along, which cost every start of
/// the program more than all its others together.
struct RsvgLibrary {
#define WHORL_RSVG_FUNCTIONS(X) \
  X(rsvg_handle_new_from_data) X(rsvg_handle_render_document) X(g_object_unref) X(g_clear_error) X(cairo_create) \
  X(cairo_destroy) X(cairo_status) X(cairo_status_to_string) X(cairo_paint) X(cairo_set_source_rgb) \
  X(cairo_surface_destroy) X(cairo_surface_finish) X(cairo_surface_status) X(cairo_surface_write_to_png_stream) \
  X(cairo_image_surface_create) X(cairo_pdf_surface_create_for_stream) X(cairo_pdf_surface_restrict_to_version) \
  X(cairo_pdf_surface_set_metadata)
#define WHORL_RSVG_MEMBER(name) decltype(&::name) name{};
  WHORL_RSVG_FUNCTIONS(WHORL_RSVG_MEMBER)
#undef WHORL_RSVG_MEMBER

  std::string missing;  ///< why it cannot be used; empty: it can
};

/// Loads the file with all that stands behind it.
[[nodiscard]] RsvgLibrary load_rsvg(const char* file);

/// The one of this machine, loaded once.
[[nodiscard]] const RsvgLibrary& rsvg();

}  // namespace whorl::figures
