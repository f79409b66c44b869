/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/control/answer.h"

#include "daemon/cli/cli.h"

void answer_document(ServeRequest *request, int status, const json_t *document)
{
    serve_answer_json(request, status, json_dumps(document, JSON_COMPACT | JSON_ENCODE_ANY));
}

void answer_fault(ServeRequest *request, int status, int exit_code, const char *what,
                  const char *value, const char *why)
{
    json_t *document = json_pack("{s:{s:s, s:s, s:s, s:i}}", "error", "what", what, "value", value,
                                 "why", why, "exit", exit_code);

    answer_document(request, status, document);
    json_decref(document);
}

int answer_status(int exit_code)
{
    switch (exit_code) {
    case EXIT_USE:
    case EXIT_DATA: return 400;
    case EXIT_NO_SUCH: return 404;
    case EXIT_NOT_ALLOWED: return 403;
    case EXIT_SETTINGS: return 409;
    case EXIT_LATER: return 503;
    default: return 500;
    }
}
