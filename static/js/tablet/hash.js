// SHA-256 (FIPS 180-4) as the browser computes it. Never awaited inside a database transaction: that would end it.

/**
 * @param {string|ArrayBuffer|Uint8Array} content text is hashed as UTF-8
 * @returns {Promise<string>} 64 lower-case hexadecimal digits
 */
export async function sha256(content) {
  const bytes = typeof content === "string" ? new TextEncoder().encode(content) : content;
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...digest].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
