// A fault in the list leads to its place in the text.
document.addEventListener("click", (event) => {
  const jump = event.target.closest(".fault-jump");
  const text = document.getElementById("schedule-text");
  if (!jump || !text) return;
  const lines = text.value.split("\n");
  const line = Math.min(Number(jump.dataset.line), lines.length);
  const start = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0) + Number(jump.dataset.column) - 1;
  const word = /^[\w-]+|^./.exec(text.value.slice(start));
  text.focus();
  text.setSelectionRange(start, start + (word ? word[0].length : 0));
  const height = text.scrollHeight / lines.length;
  text.scrollTop = Math.max(0, (line - 4) * height);
});
