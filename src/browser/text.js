// Run sheets and job files as text.

// Cells of a sheet: commas, semicolons or tabs, whichever its first line has most of; quotes as in RFC 4180.
const readSheet = (text) => {
  text = text.replace(/^\ufeff/, "");
  const head = text.split(/\r?\n/, 1)[0];
  const count = (mark) => head.split(mark).length;
  const mark = [",", ";", "\t"].reduce((a, b) => (count(b) > count(a) ? b : a));
  const rows = [[""]];
  let quoted = false;
  for (let k = 0; k < text.length; k += 1) {
    const row = rows.at(-1);
    const letter = text[k];
    if (quoted && letter === '"' && text[k + 1] === '"') row[row.length - 1] += text[(k += 1)];
    else if (letter === '"' && (quoted || row.at(-1) === "")) quoted = !quoted;
    else if (!quoted && letter === mark) row.push("");
    else if (!quoted && letter === "\n") rows.push([""]);
    else if (quoted || letter !== "\r") row[row.length - 1] += letter;
  }
  const [header, ...body] = rows.filter((row) => row.some((cell) => cell.trim() !== ""));
  return { header: (header ?? []).map((name) => name.trim()), rows: body };
};

const writeSheet = ({ header, rows }) => {
  const cell = (text = "") => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  return [header, ...rows].map((row) => header.map((_, k) => cell(row[k])).join(",")).join("\n") + "\n";
};

const asName = (header) => header.trim().toLowerCase().replaceAll(" ", "_");

// What is said of a prep, each with what it takes; docs/job.md has every key.
const PREP_KEYS = [
  ["class", "Electrode class", "WLa20"],
  ["diameter", "Diameter", "2.4 mm"],
  ["taper_deg", "Taper, full angle, °", "30"],
  ["tip", "Tip", ["point", "flat", "rounded", "balled"]],
  ["tip_flat", "Flat at the end", "0.25 mm"],
  ["marks", "Grind marks", ["lengthwise", "crosswise", "polished"]],
  ["wheel", "Wheel", "diamond, fine"],
];

// A basic string of TOML: JSON escapes the same way, but for DEL.
const quoted = (text) => JSON.stringify(text).replaceAll("\u007f", "\\u007F");

// The job file with its preps as the forms have them; what stands before the first of them stays.
const withPreps = (text, preps) => {
  const at = text.search(/^\[prep\./m);
  const head = at < 0 ? text : text.slice(0, at);
  const prep = ({ name, said }) => {
    const key = /^[A-Za-z0-9_-]+$/.test(name) ? name : quoted(name);
    const keys = PREP_KEYS.filter(([key]) => said[key]?.trim()).map(([key]) => {
      const value = said[key].trim();
      return `${key} = ${key === "taper_deg" && /^\d+([.,]\d+)?$/.test(value) ? value.replace(",", ".") : quoted(value)}\n`;
    });
    return `[prep.${key}]\n${keys.join("")}`;
  };
  return `${head.trimEnd()}\n\n${preps.map(prep).join("\n")}`;
};
