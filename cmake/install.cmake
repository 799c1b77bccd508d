# `cmake --install` puts the headers, the static library, the program and the CMake package Rimstance
# under one prefix; tests/consumer uses them from there.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

set(package_directory ${CMAKE_INSTALL_LIBDIR}/cmake/Rimstance)

install(DIRECTORY ${PROJECT_SOURCE_DIR}/include/rimstance DESTINATION ${CMAKE_INSTALL_INCLUDEDIR})
install(TARGETS rimstance EXPORT RimstanceTargets ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR})
if(TARGET rimstance_program)
  install(TARGETS rimstance_program RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
endif()
install(EXPORT RimstanceTargets NAMESPACE Rimstance:: DESTINATION ${package_directory})
install(FILES ${PROJECT_SOURCE_DIR}/LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR})

configure_package_config_file(${CMAKE_CURRENT_LIST_DIR}/RimstanceConfig.cmake.in
  ${PROJECT_BINARY_DIR}/RimstanceConfig.cmake INSTALL_DESTINATION ${package_directory})
# Below 1.0 a minor version may change a signature.
write_basic_package_version_file(${PROJECT_BINARY_DIR}/RimstanceConfigVersion.cmake
  COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/RimstanceConfig.cmake ${PROJECT_BINARY_DIR}/RimstanceConfigVersion.cmake
  DESTINATION ${package_directory})
