// Text as the program counts and strips it: by code points, and by the spaces Unicode knows.

const BEYOND = "\\x85\\xa0\\u1680\\u2000-\\u200a\\u2028\\u2029\\u202f\\u205f\\u3000";
const SPACES = `[\\t-\\r\\x1c-\\x20${BEYOND}]`;
const ENDS = new RegExp(`^${SPACES}+|${SPACES}+$`, "g");
const BETWEEN = new RegExp(`${SPACES}+`);

/** The text without spaces at its ends. */
export const strip = (text) => text.replace(ENDS, "");

/** The words of a text. */
export const wordsOf = (text) => text.split(BETWEEN).filter(Boolean);

/** How many characters (code points) a text has. */
export const lengthOf = (text) => Array.from(text).length;
