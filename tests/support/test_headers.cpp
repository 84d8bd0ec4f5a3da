// Nothing of its own: CMake wants a source beside the precompiled headers of all tests.
