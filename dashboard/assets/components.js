/* The block that holds markup as it is. React is the one Dash brings; the same markup is never set twice. */
window.sagline = {
  Markup: window.React.memo(function Markup(props) {
    return window.React.createElement("div", {
      id: props.id,
      className: props.className,
      dangerouslySetInnerHTML: { __html: props.markup },
    });
  }, (a, b) => a.markup === b.markup && a.className === b.className),
};
