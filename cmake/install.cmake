# `cmake --install` puts under one prefix: the program with its man page, completions and examples
# (component main), the import program (import), and headers, static library and CMake package Rimstance
# (dev; tests/consumer uses them from there). Debian packages of the same components: package.cmake.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

if(TARGET rimstance_program)
  install(TARGETS rimstance_program RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR} COMPONENT main)
  install(FILES ${PROJECT_SOURCE_DIR}/tools/install/rimstance.bash COMPONENT main
    DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME rimstance)
  install(FILES ${PROJECT_SOURCE_DIR}/tools/install/rimstance.zsh COMPONENT main
    DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/site-functions RENAME _rimstance)
  # Side by side: the scenarios name their terrain by a relative path.
  install(DIRECTORY ${PROJECT_SOURCE_DIR}/examples ${PROJECT_SOURCE_DIR}/terrain COMPONENT main
    DESTINATION ${CMAKE_INSTALL_DATADIR}/rimstance)
  configure_file(${PROJECT_SOURCE_DIR}/tools/install/rimstance.1.in ${PROJECT_BINARY_DIR}/rimstance.1 @ONLY)
endif()
# A package has these two in the form of its distribution.
if(TARGET rimstance_program)
  install(FILES ${PROJECT_BINARY_DIR}/rimstance.1 DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT unpackaged)
endif()
install(FILES ${PROJECT_SOURCE_DIR}/LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT unpackaged)

# Where the program looks for it, seen from its own folder.
if(TARGET rimstance_import)
  install(TARGETS rimstance_import RUNTIME DESTINATION ${CMAKE_INSTALL_LIBEXECDIR}/rimstance COMPONENT import)
endif()

set(package_directory ${CMAKE_INSTALL_LIBDIR}/cmake/Rimstance)
install(DIRECTORY ${PROJECT_SOURCE_DIR}/include/rimstance DESTINATION ${CMAKE_INSTALL_INCLUDEDIR} COMPONENT dev)
install(TARGETS rimstance EXPORT RimstanceTargets ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR} COMPONENT dev)
install(EXPORT RimstanceTargets NAMESPACE Rimstance:: DESTINATION ${package_directory} COMPONENT dev)
configure_package_config_file(${CMAKE_CURRENT_LIST_DIR}/RimstanceConfig.cmake.in
  ${PROJECT_BINARY_DIR}/RimstanceConfig.cmake INSTALL_DESTINATION ${package_directory})
# Below 1.0 a minor version may change a signature.
write_basic_package_version_file(${PROJECT_BINARY_DIR}/RimstanceConfigVersion.cmake
  COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/RimstanceConfig.cmake ${PROJECT_BINARY_DIR}/RimstanceConfigVersion.cmake
  DESTINATION ${package_directory} COMPONENT dev)

include(${CMAKE_CURRENT_LIST_DIR}/package.cmake)
