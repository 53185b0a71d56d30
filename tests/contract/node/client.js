// One case of the contract, asked and judged from Node. Usage: node client.js CASE ADDRESS
'use strict';

const {connect} = require('./calls.js');
const cases = {...require('./plan_cases.js').cases, ...require('./assemble_cases.js').cases};

async function main() {
  const [name, address] = process.argv.slice(2);
  if (!cases[name]) throw new Error(`got case '${name}', want one of ${Object.keys(cases).join(', ')}`);
  const client = connect(address);
  await cases[name](client);
  client.close();
}

// A failed case may have left streams open: it does not wait for them.
main().catch((error) => {
  console.error(error);
  process.exit(1);
});
