"""How sound comes in: files of all kinds, the microphone, taps; and what it has been through."""
