/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/sync/caller.h"

json_t *caller_object(const ServeRequest *request, gsize most)
{
    gsize length;
    const char *bytes = g_bytes_get_data(serve_body(request), &length);
    json_t *body = length > 0 && length <= most
                       ? json_loadb(bytes, length, JSON_REJECT_DUPLICATES, NULL)
                       : NULL;

    if (json_is_object(body)) return body;
    json_decref(body);
    return NULL;
}

void caller_turn_away(ServeRequest *request, int status)
{
    serve_answer(request, status, NULL, NULL, NULL);
}
