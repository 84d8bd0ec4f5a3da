"""Saw-chain scenes of exactly known geometry: solids, ray tracing, camera model, truth."""
