// Programs of the graphics card and what they draw from.

/** A program of the card, and where its names are. */
export function program(gl, ...sources) {
  const made = gl.createProgram();
  for (const [i, source] of sources.entries()) {
    const shader = gl.createShader(i ? gl.FRAGMENT_SHADER : gl.VERTEX_SHADER);
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
    gl.attachShader(made, shader);
  }
  for (const [place, name] of ["point", "kind"].entries()) gl.bindAttribLocation(made, place, name);
  gl.linkProgram(made);
  if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
  const known = new Map();
  const find = (name) => {
    const input = gl.getAttribLocation(made, name);
    return input < 0 ? gl.getUniformLocation(made, name) : input;
  };
  const at = (name) => {
    if (!known.has(name)) known.set(name, find(name));
    return known.get(name);
  };
  return { program: made, at };
}

/** Buffers as the inputs of a program: [buffer, place, count of numbers, their type] each. */
export function vertices(gl, parts) {
  const made = gl.createVertexArray();
  gl.bindVertexArray(made);
  for (const [buffer, place, size, type] of parts) {
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.enableVertexAttribArray(place);
    gl.vertexAttribPointer(place, size, type, false, 0, 0);
  }
  gl.bindVertexArray(null);
  return made;
}
