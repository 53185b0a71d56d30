// Calls of the daemon as promises, and the details of its refusals.
'use strict';

const path = require('path');
const grpc = require('@grpc/grpc-js');
const loader = require('@grpc/proto-loader');

const PROTO = path.join(__dirname, '..', '..', '..', 'proto');
const definition = loader.loadSync(
    ['scantling/v1/shot_planner.proto', 'google/rpc/error_details.proto', 'google/rpc/status.proto'],
    {includeDirs: [PROTO], keepCase: true, longs: Number, enums: String, defaults: true, oneofs: true});
const {ShotPlanner} = grpc.loadPackageDefinition(definition).scantling.v1;

const PATIENCE_MS = 30000;

// Plain sockets; whatever proxy the machine names is not asked.
function connect(address) {
  return new ShotPlanner(address, grpc.credentials.createInsecure(), {'grpc.enable_http_proxy': 0});
}

function unary(client, method, request, patienceMs = PATIENCE_MS) {
  return new Promise((resolve, reject) => {
    client[method](request, after(patienceMs), (error, answer) => error ? reject(error) : resolve(answer));
  });
}

// Everything a stream answers, once it ended.
function readAll(call) {
  return new Promise((resolve, reject) => {
    const answers = [];
    call.on('data', (answer) => answers.push(answer));
    call.on('error', reject);
    call.on('end', () => resolve(answers));
  });
}

// {BadRequest: [...], ErrorInfo: [...], ...} of a google.rpc.Status, whose own code and message stand beside.
function detailsOf(status) {
  const found = {code: status.code, message: status.message};
  for (const {type_url: url, value} of status.details) {
    const full = url.split('/').pop();
    const name = full.split('.').pop();
    (found[name] = found[name] || []).push(definition[full].deserialize(value));
  }
  return found;
}

// The same of an error's trailer.
function refusalOf(error) {
  const [packed] = error.metadata.get('grpc-status-details-bin');
  if (!packed) throw new Error(`no grpc-status-details-bin with ${error.message}`);
  return detailsOf(definition['google.rpc.Status'].deserialize(packed));
}

// Options of a call that ends in `ms`.
const after = (ms) => ({deadline: Date.now() + ms});

async function errorOf(promise) {
  try {
    await promise;
  } catch (error) {
    return error;
  }
  throw new Error('answered, where an error was wanted');
}

module.exports = {connect, unary, readAll, detailsOf, refusalOf, after, errorOf, status: grpc.status, PATIENCE_MS};
