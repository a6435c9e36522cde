// Rows of numbers travel as base64 of little-endian 32 bit numbers.

function bytes(packed) {
  const text = atob(packed);
  const out = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i += 1) out[i] = text.charCodeAt(i);
  return out.buffer;
}

export const floats = (packed) => new Float32Array(bytes(packed));
export const indices = (packed) => new Uint32Array(bytes(packed));

// The lines of every branch in every pose, unpacked in place of the text.
export function unpackShapes(told) {
  return {
    ...told,
    branches: told.branches.map((branch) => ({
      name: branch.name,
      stations: floats(branch.stations_mm),
      lines: branch.lines.map(floats),
      // How it bends in each pose: unpacked when it is looked at.
      radii: branch.radius_mm,
    })),
  };
}
