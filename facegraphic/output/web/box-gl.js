// Small help with WebGL 2: programs, buffers, textures.

/** A linked program and the places of its uniforms by name. */
export function program(gl, vertex, fragment) {
  const made = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS) && !gl.isContextLost()) {
      throw new Error(gl.getShaderInfoLog(shader));
    }
    gl.attachShader(made, shader);
    gl.deleteShader(shader);
  }
  gl.linkProgram(made);
  if (!gl.getProgramParameter(made, gl.LINK_STATUS) && !gl.isContextLost()) throw new Error(gl.getProgramInfoLog(made));
  const at = {}, count = gl.getProgramParameter(made, gl.ACTIVE_UNIFORMS) ?? 0;
  for (let i = 0; i < count; i++) {
    const { name } = gl.getActiveUniform(made, i);
    at[name.replace("[0]", "")] = gl.getUniformLocation(made, name);
  }
  return { program: made, at };
}

/** Vertices (floats) and triangles (32 bit) in an array object; `layout` has [floats, offset in bytes] for each input. */
export function buffers(gl, vertices, indices, layout, stride) {
  const array = gl.createVertexArray(), data = gl.createBuffer(), index = gl.createBuffer();
  gl.bindVertexArray(array);
  gl.bindBuffer(gl.ARRAY_BUFFER, data);
  gl.bufferData(gl.ARRAY_BUFFER, vertices, gl.STATIC_DRAW);
  gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, index);
  gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, indices, gl.STATIC_DRAW);
  layout.forEach(([floats, offset], place) => {
    gl.enableVertexAttribArray(place);
    gl.vertexAttribPointer(place, floats, gl.FLOAT, false, stride, offset);
  });
  gl.bindVertexArray(null);
  return { array, data, index, count: indices.length };
}

export function bind(gl, unit, texture) {
  gl.activeTexture(gl.TEXTURE0 + unit);
  gl.bindTexture(gl.TEXTURE_2D, texture);
}

function clamped(gl) {
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
}

/** A texture of a picture, rows from the top, sharp at a slant where the card can. */
export function dressed(gl, picture, format) {
  const texture = gl.createTexture();
  bind(gl, 0, texture);
  gl.pixelStorei(gl.UNPACK_COLORSPACE_CONVERSION_WEBGL, gl.NONE);
  gl.texImage2D(gl.TEXTURE_2D, 0, format, gl.RGBA, gl.UNSIGNED_BYTE, within(picture, gl.getParameter(gl.MAX_TEXTURE_SIZE)));
  gl.generateMipmap(gl.TEXTURE_2D);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR_MIPMAP_LINEAR);
  clamped(gl);
  const slant = gl.getExtension("EXT_texture_filter_anisotropic");
  if (slant) {
    const most = gl.getParameter(slant.MAX_TEXTURE_MAX_ANISOTROPY_EXT);
    gl.texParameterf(gl.TEXTURE_2D, slant.TEXTURE_MAX_ANISOTROPY_EXT, Math.min(16, most));
  }
  return texture;
}

/** A picture no larger than the card takes. */
function within(picture, most) {
  const width = picture.naturalWidth ?? picture.width, height = picture.naturalHeight ?? picture.height;
  const scale = most / Math.max(width, height);
  if (scale >= 1) return picture;
  const smaller = new OffscreenCanvas(Math.floor(width * scale), Math.floor(height * scale));
  smaller.getContext("2d").drawImage(picture, 0, 0, smaller.width, smaller.height);
  return smaller;
}

/** A texture of one grey byte a pixel. */
export function grey(gl, width, height, levels) {
  const texture = gl.createTexture();
  bind(gl, 0, texture);
  gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
  gl.texImage2D(gl.TEXTURE_2D, 0, gl.R8, width, height, 0, gl.RED, gl.UNSIGNED_BYTE, levels);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR);
  clamped(gl);
  return texture;
}

/** A picture of depths that is compared when it is read, and the frame that draws into it. */
export function shadow(gl, pixels) {
  const texture = gl.createTexture(), frame = gl.createFramebuffer();
  bind(gl, 0, texture);
  gl.texStorage2D(gl.TEXTURE_2D, 1, gl.DEPTH_COMPONENT24, pixels, pixels);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.LINEAR);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_COMPARE_MODE, gl.COMPARE_REF_TO_TEXTURE);
  clamped(gl);
  gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
  gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.TEXTURE_2D, texture, 0);
  gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  return { texture, frame };
}
