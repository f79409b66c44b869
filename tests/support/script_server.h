/* SPDX-License-Identifier: Apache-2.0 */
/* A TCP server on the loopback whose every byte is scripted by a test, on the test's own loop: for
 * servers that misbehave, and for toy SMTP and IMAP. */
#ifndef OSIER_TESTS_SUPPORT_SCRIPT_SERVER_H
#define OSIER_TESTS_SUPPORT_SCRIPT_SERVER_H

#include <glib.h>
#include <stdbool.h>
#include <uv.h>

typedef struct ScriptServer ScriptServer;
typedef struct ScriptPeer ScriptPeer;

/* Called when a peer has connected (heard is empty) and after each piece that it sent. What is
 * understood is erased from heard by the script. */
typedef void Script(ScriptPeer *peer, GString *heard, void *context);

ScriptServer *script_server_new(uv_loop_t *loop, Script *script, void *context);
int script_server_port(const ScriptServer *server);
int script_server_accepted(const ScriptServer *server); /* connections so far */
void script_server_close(ScriptServer *server); /* with all peers; frees once the loop has run */

void script_say(ScriptPeer *peer, const char *text, size_t length);
void script_say_text(ScriptPeer *peer, const char *text);
void script_hang_up(ScriptPeer *peer); /* after what was said is written */

/* Every connection that stands is reset at once. */
void script_server_reset_all(ScriptServer *server);

/* A number that the script may keep for each peer; 0 at first. */
int *script_state(ScriptPeer *peer);

/* Takes one whole HTTP request off heard. False where more must come first. */
bool script_take_http(GString *heard);

/* Takes one line, without its CRLF (g_free). NULL where more must come first. */
char *script_take_line(GString *heard);

#endif
