/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/fuzz/mapped.h"

#include <string.h>

#include "tests/support/gateways.h"

#define RAW_BYTES_MAX (64 * 1024)

static const char GATEWAY[] =
    "{\"kind\": \"http-sms\", \"takes_key\": true,"
    " \"send\": {\"url\": \"https://gateway.example/v1\", \"method\": \"POST\","
    "  \"json\": {\"to\": \"{to}\", \"text\": \"{text}\", \"ref\": \"{id}\"},"
    "  \"accepted\": {\"status\": [200, 201, 202], \"id\": \"/message/id\"},"
    "  \"refused\": {\"status\": [400, 404, 422], \"reason\": \"/error\"}},"
    " \"poll\": {\"url\": \"https://gateway.example/in?after={cursor}\", \"every\": \"30s\","
    "  \"items\": \"/messages\", \"id\": \"/id\", \"from\": \"/from\", \"text\": \"/text\","
    "  \"at\": \"/at\", \"cursor\": \"/next\"},"
    " \"webhook\": {\"path\": \"/in/texts\", \"id\": \"/id\", \"from\": \"/from\", \"text\": "
    "\"/text\","
    "  \"at\": \"/at\","
    "  \"signature\": {\"scheme\": \"standard-webhooks\", \"secret\": \"{secret:texts.hook}\"}},"
    " \"receipts\": {\"webhook\": {\"path\": \"/receipts/texts\", \"id\": \"/id\","
    "  \"status\": \"/status\", \"delivered\": [\"delivered\"], \"failed\": [\"failed\"],"
    "  \"signature\": {\"scheme\": \"hmac-sha256\", \"header\": \"X-Signature\","
    "   \"encoding\": \"hex\", \"prefix\": \"sha256=\", \"secret\": \"{secret:texts.hook}\"}}}}";

const Gateway *mapped_gateway(void)
{
    static Clinic *clinic;

    if (clinic == NULL) clinic = clinic_with_gateway(GATEWAY);
    return clinic_gateway(clinic, "texts");
}

char *mapped_line(const uint8_t **data, size_t *size)
{
    const uint8_t *end = *size > 0 ? memchr(*data, '\n', *size) : NULL;

    if (end == NULL) return NULL;
    size_t length = (size_t)(end - *data);
    char *line = g_strndup((const char *)*data, length);
    *data += length + 1;
    *size -= length + 1;
    return line;
}

static void check_text(const char *text)
{
    g_assert(text == NULL || g_utf8_validate(text, -1, NULL));
}

void mapped_check(const Incoming *incoming)
{
    check_text(incoming->id);
    check_text(incoming->from);
    check_text(incoming->text);
    check_text(incoming->raw);
    check_text(incoming->problem);
    g_assert(incoming->raw == NULL || strlen(incoming->raw) <= RAW_BYTES_MAX);
    g_assert(incoming->at_ms >= -1);
    /* Nothing falls between: what has no problem has a sender and a text. */
    g_assert(incoming->problem != NULL || (incoming->from != NULL && incoming->text != NULL));
}
