// What every script here does: one JSON value in, one JSON value out.
export async function answer(make) {
  let text = '';
  for await (const part of process.stdin) text += part;
  process.stdout.write(JSON.stringify(await make(JSON.parse(text))));
}
