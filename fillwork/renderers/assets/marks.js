// What is drawn over a drawing: rings, words, one repeat with its symmetry; and how light a colour is.

/** A circle about a place. */
export function ring(ctx, [x, y], radius, colour, width, dash = []) {
  ctx.beginPath();
  ctx.arc(x, y, radius, 0, 2 * Math.PI);
  ctx.strokeStyle = colour;
  ctx.lineWidth = width;
  ctx.setLineDash(dash);
  ctx.stroke();
  ctx.setLineDash([]);
}

/** Words with a white rim, legible on any colour. */
export function label(ctx, words, x, y, colour, px) {
  ctx.font = `600 ${13 * px}px "Noto Sans", system-ui, sans-serif`;
  ctx.textAlign = "start";
  ctx.textBaseline = "alphabetic";
  ctx.lineJoin = "round";
  ctx.lineWidth = 4 * px;
  ctx.strokeStyle = "#fff";
  ctx.strokeText(words, x, y);
  ctx.fillStyle = colour;
  ctx.fillText(words, x, y);
}

/** One repeat in black, mirrors solid, glides dashed, centres as filled figures. */
export function drawRepeat(ctx, zone, px) {
  if (!zone.cell.length) return;
  const [o, a, b] = zone.cell;
  const reach = Math.max(Math.hypot(...a), Math.hypot(...b)) || 60;
  ctx.lineWidth = 1.2 * px;
  ctx.strokeStyle = "#000";
  for (const [x, y, dx, dy, glide] of zone.axes) {
    ctx.setLineDash(glide ? [6 * px, 4 * px] : []);
    ctx.beginPath();
    ctx.moveTo(x - dx * reach, y - dy * reach);
    ctx.lineTo(x + dx * reach, y + dy * reach);
    ctx.stroke();
  }
  ctx.setLineDash([]);
  if (Math.hypot(...a) > 0) {
    ctx.lineWidth = 2.5 * px;
    ctx.beginPath();
    ctx.moveTo(o[0], o[1]);
    ctx.lineTo(o[0] + a[0], o[1] + a[1]);
    ctx.lineTo(o[0] + a[0] + b[0], o[1] + a[1] + b[1]);
    ctx.lineTo(o[0] + b[0], o[1] + b[1]);
    ctx.closePath();
    ctx.stroke();
  }
  for (const [x, y, order] of zone.centres) {
    ctx.beginPath();
    if (order === 2) ctx.ellipse(x, y, 4 * px, 8 * px, 0, 0, 2 * Math.PI);
    else
      for (let k = 0; k < order; k += 1) {
        const turn = (2 * Math.PI * k) / order - Math.PI / 2;
        ctx.lineTo(x + 8 * px * Math.cos(turn), y + 8 * px * Math.sin(turn));
      }
    ctx.closePath();
    ctx.fillStyle = "#000";
    ctx.fill();
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = 1.5 * px;
    ctx.stroke();
    ctx.strokeStyle = "#000";
  }
}

function channels(hex) {
  return [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16) / 255);
}

/** Whether white is easier to read on a colour than black (WCAG 2.2 luminance). */
export function dark(hex) {
  const [r, g, b] = channels(hex ?? "#ffffff").map((c) =>
    c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4,
  );
  return 0.2126 * r + 0.7152 * g + 0.0722 * b < 0.179;
}

/** The grey of the same luminance. */
export function greyOf(hex) {
  const [r, g, b] = channels(hex);
  const level = Math.round(255 * (0.2126 * r + 0.7152 * g + 0.0722 * b));
  return `rgb(${level} ${level} ${level})`;
}
