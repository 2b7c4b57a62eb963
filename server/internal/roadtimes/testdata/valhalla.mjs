// The few lines of HTTP that the package of Valhalla for Node.js lacks: POST /sources_to_targets and POST /route go to it
// as they come. Begun with a folder that holds node_modules and config.json; prints the address that it listens on.
import { createRequire } from 'node:module';
import { createServer } from 'node:http';
import { join } from 'node:path';

const folder = process.argv[2];
const { Actor } = createRequire(join(folder, 'node_modules', '/'))('@valhallajs/valhallajs');
const actor = await Actor.fromConfigFile(join(folder, 'config.json'));
const answers = { '/sources_to_targets': (question) => actor.matrix(question), '/route': (question) => actor.route(question) };

const server = createServer(async (request, response) => {
  let question = '';
  for await (const part of request) question += part;
  let status = 200, body;
  try {
    body = await answers[request.url](question);
  } catch (error) {
    // The program itself answers 400 to what it does not take.
    status = 400;
    body = JSON.stringify({ error: error.message, status_code: 400 });
  }
  response.writeHead(status, { 'Content-Type': 'application/json' });
  response.end(body);
});
server.listen(0, '127.0.0.1', () => console.log(`listening http://127.0.0.1:${server.address().port}`));
process.stdin.resume();
process.stdin.on('end', () => process.exit(0)); // it goes with whoever began it
