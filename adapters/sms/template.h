/* SPDX-License-Identifier: Apache-2.0 */
/* Fills the templates of a gateway's mapping: each placeholder is replaced once, then the result is
 * escaped for its place. What a value holds is never looked at for placeholders. */
#ifndef OSIER_ADAPTERS_SMS_TEMPLATE_H
#define OSIER_ADAPTERS_SMS_TEMPLATE_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

#include "adapters/sms/sms_gateway.h"

/* One placeholder's value; a list of them ends with a NULL name. */
typedef struct {
    const char *name;
    const char *value; /* NULL: there is none, and a template that uses it cannot be filled */
} Filling;

typedef struct {
    const Filling *fillings;
    SecretLookup *secret;
    void *context;
} Scope;

/* The template with its placeholders replaced as they are. NULL and *why (g_free) where one has no
 * value; a secret's value is never in *why. The caller frees. */
char *template_fill(const char *template, const Scope *scope, char **why);

/* The same with each value percent-encoded: for a URL. */
char *template_url(const char *template, const Scope *scope, char **why);

/* An object of names and templates as application/x-www-form-urlencoded (URL standard 5.2, spaces
 * as %20). */
char *template_form(json_t *object, const Scope *scope, char **why);

/* A copy of a JSON value with each text in it filled (new reference). */
json_t *template_json(json_t *value, const Scope *scope, char **why);

/* Adds an object of header names and templates to a request. False and *why where a value cannot
 * stand in a header. */
bool template_headers(WireRequest *request, json_t *object, const Scope *scope, char **why);

#endif
