"""The answer in 3D: pieces, fittings, takeoffs, counts, proof, and its graph."""
