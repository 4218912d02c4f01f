# What `cmake --install` puts where: program, property data, cases, documents, and the library with its package config.
include(CMakePackageConfigHelpers)
set(WHORL_INSTALL_INCLUDEDIR ${CMAKE_INSTALL_INCLUDEDIR})
set(WHORL_INSTALL_CMAKEDIR ${CMAKE_INSTALL_LIBDIR}/cmake/whorl)
set(WHORL_INSTALL_DATADIR ${CMAKE_INSTALL_DATADIR}/whorl)

install(DIRECTORY data cases DESTINATION ${WHORL_INSTALL_DATADIR} COMPONENT program FILES_MATCHING PATTERN "*.json")
# The page with the model inside, where tools/build-page has made it before.
set(WHORL_PAGE_FILE ${PROJECT_SOURCE_DIR}/build/page/whorl.html CACHE FILEPATH "whorl.html as made by tools/build-page; installed when it is there")
install(FILES ${WHORL_PAGE_FILE} DESTINATION ${WHORL_INSTALL_DATADIR} COMPONENT program RENAME whorl.html OPTIONAL)
install(FILES docs/case.schema.json DESTINATION ${WHORL_INSTALL_DATADIR} COMPONENT program)
install(FILES LICENSE README.md CHANGELOG.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
install(DIRECTORY docs DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program USE_SOURCE_PERMISSIONS)

foreach(layer IN ITEMS model solver jet engine io study)
  whorl_install_layer(${layer})
endforeach()
install(EXPORT whorlTargets NAMESPACE whorl:: DESTINATION ${WHORL_INSTALL_CMAKEDIR} COMPONENT development)

# Before 1.0 a new minor version may change the interface.
write_basic_package_version_file(${PROJECT_BINARY_DIR}/whorlConfigVersion.cmake COMPATIBILITY SameMinorVersion)
configure_package_config_file(cmake/whorlConfig.cmake.in ${PROJECT_BINARY_DIR}/whorlConfig.cmake
  INSTALL_DESTINATION ${WHORL_INSTALL_CMAKEDIR}
  PATH_VARS WHORL_INSTALL_INCLUDEDIR WHORL_INSTALL_DATADIR)
install(FILES
  ${PROJECT_BINARY_DIR}/whorlConfig.cmake
  ${PROJECT_BINARY_DIR}/whorlConfigVersion.cmake
  cmake/FindUDUNITS2.cmake
  DESTINATION ${WHORL_INSTALL_CMAKEDIR} COMPONENT development)
