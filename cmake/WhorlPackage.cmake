# `cpack -G DEB` in the build folder: whorl (program, cases, data, documents, man pages, completion) and libwhorl-dev (library).
set(CPACK_PACKAGE_NAME whorl)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_VENDOR "whorl contributors")
set(CPACK_PACKAGE_CONTACT "whorl contributors <maintainer@example.invalid>")  # a placeholder: nobody's address
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "process estimator for centrifugal-plus-pressure fibre spinning")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_COMPONENTS_ALL program development)
set(CPACK_COMPONENTS_GROUPING IGNORE)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_RELEASE 1)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_DEBIAN_ENABLE_COMPONENT_DEPENDS OFF)

set(CPACK_DEBIAN_PROGRAM_PACKAGE_NAME whorl)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SHLIBDEPS ON)
if(TARGET PkgConfig::RSVG)
  set(CPACK_DEBIAN_PROGRAM_PACKAGE_DEPENDS "librsvg2-2 (>= 2.52)")  # loaded by name, which nothing sees in the program
endif()
set(CPACK_DEBIAN_PROGRAM_DESCRIPTION "From a case file it computes what a small perforated vessel that turns fast under gas overpressure makes of a polymer solution: flow
out of the orifices, path of the jets, drying and the fibre that lands. It sweeps settings into tables and says what decided the
result and how far it can be trusted. An estimate is no proof of safety: solvent vapour, gas pressure and a fast rotor can injure.")
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME libwhorl-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
# The package config names folders of cases and data, which the program's package has.
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS "whorl (= ${PROJECT_VERSION}-1), libudunits2-dev, libeigen3-dev, libfmt-dev, nlohmann-json3-dev")
set(CPACK_DEBIAN_DEVELOPMENT_DESCRIPTION "Static libraries, headers and CMake package config (whorl::engine, whorl::io) of the process estimator whorl.")
set(CPACK_PRE_BUILD_SCRIPTS ${CMAKE_CURRENT_LIST_DIR}/WhorlPackageFiles.cmake)
set(CPACK_WHORL_PACKAGING_DIR ${PROJECT_SOURCE_DIR}/packaging)
include(CPack)
